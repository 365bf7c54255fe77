"""What the flags do to the numbers: every rate once more, with flagged values as recorded.

Only newborns with a masked value can change state, so only they are measured again, in a
database of their own in memory; everybody else's states are taken over.
"""

from collections.abc import Mapping, Sequence

import duckdb

from pipelines.catalogue import describe_store
from pipelines.contract import read_contract
from pipelines.engine import count_states, create_measure_tables, run_measure
from pipelines.measures import Measure
from pipelines.typed import MART, sql_file
from pipelines.units import Unit

_HERE = "as_recorded"


def _store_name(connection: duckdb.DuckDBPyConnection) -> str:
    row = connection.execute("select current_database()").fetchone()
    return f'"{row[0]}"' if row else "store"


def _recorded_views(connection: duckdb.DuckDBPyConnection, store: str) -> None:
    """Give ``judged`` and ``typed`` here: unmasked values of the newborns that have a mask.

    A cell that could not be read stays unusable, for there is no value to use.
    """
    connection.execute(
        f"""
        create schema typed; create schema judged; create schema mart;
        create view typed.kind_unit as select * from {store}.typed.kind_unit;
        create table masked as
        select distinct newborn_id from ({
            " union all ".join(
                f"select newborn_id from {store}.judged.{table} where len(unusable) > 0"
                for table in read_contract()
            )
        })
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


def compare_as_recorded(
    connection: duckdb.DuckDBPyConnection,
    units: Sequence[Unit],
    measures: Mapping[str, Measure],
) -> None:
    """Fill ``measure.as_recorded``: counts and rate with flagged values used as recorded.

    Its rows have the columns of ``measure.result``; a row is there for every row of it.
    """
    store = _store_name(connection)
    connection.execute(f"attach ':memory:' as {_HERE}; use {_HERE}")
    try:
        _recorded_views(connection, store)
        for name in MART:
            connection.execute(sql_file("mart", name))
        create_measure_tables(connection)
        describe_store(connection, units, measures, {})
        for measure in measures.values():
            run_measure(connection, units, measure)
        connection.execute(
            f"""
            insert into measure.membership
            select * from {store}.measure.membership
            where newborn_id not in (select newborn_id from {_HERE}.main.masked);
            drop table mart.newborn;
            create view mart.newborn as select * from {store}.mart.newborn
            """
        )
        count_states(connection, measures)
        connection.execute(f"use {store}")
        connection.execute(
            f"create table measure.as_recorded as select * from {_HERE}.measure.result"
        )
    finally:
        connection.execute(f"use {store}")
        connection.execute(f"detach {_HERE}")
