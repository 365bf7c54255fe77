"""What the flags do to the numbers: every rate once more, with flagged values as recorded.

Only newborns with a masked value can change state. While the measures run, each of them stands
in ``mart`` a second time, under its newborn_id below nought and with its values as recorded, so
that every measure is planned and run once for both; everybody else counts for both sides.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import duckdb

from pipelines.base.sql import MART, fixed_sql
from pipelines.definitions.read_contract import read_contract
from pipelines.stages.measure.counting import write_results

_HERE: Final = "as_recorded"
# Beyond every row_id (``typed``): the copy of an event keeps its order and has an id of its own.
_COPIES: Final = 1 << 62
# Events up to which mart is copied: a measure is planned faster over a table than over a view of
# two, and that is most of its time where there are few rows.
_COPIED_AT_MOST: Final = 500_000


@contextmanager
def beside_as_recorded(connection: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """While the block runs, ``mart`` has every newborn with a masked value a second time.

    Nothing is made where nobody has one. ``measure`` is the store's all the while.
    """
    if not _note_masked(connection):
        yield
        return
    row = connection.execute("select current_database()").fetchone()
    store = f'"{row[0]}"' if row else "store"
    connection.execute(f"attach ':memory:' as {_HERE}; use {_HERE}")
    try:
        _recorded_views(connection, store)
        for name in MART:
            connection.execute(fixed_sql(f"stages/mart/{name}"))
        _put_together(connection, store)
        connection.execute(f"set search_path = '{_HERE}.mart,{store}.measure'")
        yield
    finally:
        connection.execute(f"use {store}")
        connection.execute(f"detach {_HERE}")


def _note_masked(connection: duckdb.DuckDBPyConnection) -> bool:
    """Make the temporary table ``masked_newborn``; return whether there is any."""
    parts = " union all ".join(
        f"select newborn_id from judged.{table} where len(unusable) > 0"
        for table in read_contract()
    )
    connection.execute(
        f"create or replace temp table masked_newborn as select distinct newborn_id from ({parts})"
    )
    return bool(connection.execute("select 1 from masked_newborn limit 1").fetchone())


def _recorded_views(connection: duckdb.DuckDBPyConnection, store: str) -> None:
    """Give ``judged`` and ``typed`` here: unmasked values of the newborns that have a mask.

    A cell that could not be read stays unusable, for there is no value to use.
    """
    connection.execute(
        f"""
        create schema typed; create schema judged; create schema mart;
        create view typed.kind_unit as select * from {store}.typed.kind_unit;
        create view typed.finding_tier as select * from {store}.typed.finding_tier;
        create view typed.weight_centile as select * from {store}.typed.weight_centile;
        create table main.masked as select * from masked_newborn
        """
    )
    for table in read_contract():
        connection.execute(
            f"""
            create view judged.{table} as
            select * exclude (unreadable, unmapped),
                list_concat(coalesce(unreadable, []), coalesce(unmapped, [])) as unusable,
            from {store}.typed.{table}
            where newborn_id in (select newborn_id from {_HERE}.main.masked)
            """
        )


def _put_together(connection: duckdb.DuckDBPyConnection, store: str) -> None:
    """Put the newborns and events of the store and the recorded ones of here into one ``mart``."""
    counted = connection.execute(f"select count(*) from {store}.mart.event").fetchone()
    kind = "table" if counted and counted[0] <= _COPIED_AT_MOST else "view"
    other = {"newborn": "", "way": "", "event": f", event_id + {_COPIES} as event_id"}
    for name in MART:
        connection.execute(
            f"""
            alter table mart.{name} rename to recorded_{name};
            create {kind} mart.{name} as
            select * from {store}.mart.{name}
            union all by name
            select * replace (-newborn_id as newborn_id{other[name]})
            from {_HERE}.mart.recorded_{name}
            """
        )


def write_as_recorded(connection: duckdb.DuckDBPyConnection) -> None:
    """Make ``measure.as_recorded``: counts and rate with flagged values used as recorded.

    Its rows have the columns of ``measure.result``; a row is there for every row of it.
    """
    masked = connection.execute("select 1 from masked_newborn limit 1").fetchone()
    alike = "" if masked is None else "limit 0"
    connection.execute(f"create table measure.as_recorded as select * from measure.result {alike}")
    if masked is not None:
        write_results(connection, "measure.as_recorded", "recorded")
