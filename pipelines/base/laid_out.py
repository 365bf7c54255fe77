"""Small examples laid out in a database in memory, many one after another, none left behind."""

import contextlib
from collections.abc import Callable, Iterator
from typing import TypeVar

import duckdb

Of = TypeVar("Of")


def kept_last(
    make: Callable[[Of], duckdb.DuckDBPyConnection],
) -> Callable[[Of], duckdb.DuckDBPyConnection]:
    """Keep what ``make`` made last: examples come in hundreds that share their empty tables.

    Another argument (by identity, for a contract cannot be hashed) closes it and makes anew.
    """
    kept: list[tuple[Of, duckdb.DuckDBPyConnection]] = []

    def made(of: Of) -> duckdb.DuckDBPyConnection:
        if not kept or kept[0][0] is not of:
            for _, connection in kept:
                connection.close()
            kept[:] = [(of, make(of))]
        return kept[0][1]

    return made


@contextlib.contextmanager
def undone(connection: duckdb.DuckDBPyConnection) -> Iterator[duckdb.DuckDBPyConnection]:
    """Give the connection, and undo all that the block writes, tables too."""
    connection.begin()
    try:
        yield connection
    finally:
        connection.rollback()
