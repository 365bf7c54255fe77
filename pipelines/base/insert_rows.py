"""Writing rows that Python made into a table: in one statement, never row by row."""

from collections.abc import Sequence
from typing import Any

import duckdb


def insert_rows(
    connection: duckdb.DuckDBPyConnection, table: str, rows: Sequence[Sequence[Any]]
) -> None:
    """Insert rows, each with every column of ``table`` in its order; none is right too."""
    if not rows:
        return
    # Column by column: a list is one value to plan, where a row of marks is many.
    columns = [list(column) for column in zip(*rows, strict=True)]
    lists = ", ".join(f"unnest(${place})" for place in range(1, len(columns) + 1))
    connection.execute(f"insert into {table} select {lists}", columns)
