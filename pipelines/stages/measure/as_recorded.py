"""What the flags do to the numbers: every rate once more, with flagged values as recorded.

Only newborns with a masked value can change state, so only they are measured again, in a
database of their own in memory; everybody else's counts are taken over.
"""

from collections.abc import Mapping, Sequence

import duckdb

from pipelines.base.sql import MART, fixed_sql, quote
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_measures import Measure
from pipelines.definitions.read_units import Unit
from pipelines.stages.measure.counting import add_cells, place_newborns, write_results
from pipelines.stages.measure.describe import describe_store
from pipelines.stages.measure.engine import create_measure_tables, run_measure

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
        create view typed.finding_tier as select * from {store}.typed.finding_tier;
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
    connection.execute("create or replace temp table masked_cell as select * from cell")
    connection.execute(f"attach ':memory:' as {_HERE}; use {_HERE}")
    try:
        _recorded_views(connection, store)
        for name in MART:
            connection.execute(fixed_sql(f"stages/mart/{name}"))
        create_measure_tables(connection)
        describe_store(connection, units, measures, {})
        _recount(connection, units, measures, store)
        write_results(connection)
        connection.execute(f"use {store}")
        connection.execute(
            f"create table measure.as_recorded as select * from {_HERE}.measure.result"
        )
    finally:
        connection.execute(f"use {store}")
        connection.execute(f"detach {_HERE}")


def _recount(
    connection: duckdb.DuckDBPyConnection,
    units: Sequence[Unit],
    measures: Mapping[str, Measure],
    store: str,
) -> None:
    """Leave in ``cell`` the counts of everybody: the masked newborns' old states are taken away
    and their states as recorded added.

    A mask can sit on a stratifier or the month of birth, so the places differ before and after.
    """
    own = f"(select newborn_id from {_HERE}.main.masked)"
    connection.execute(
        f"""
        create table recorded_newborn as select * from mart.newborn;
        drop table mart.newborn;
        create view mart.newborn as
        select * from {store}.mart.newborn where newborn_id in {own}
        """
    )
    place_newborns(connection)
    for measure in measures.values():
        for measure_id in measure.result_ids:
            states = (
                f"select newborn_id, state from {store}.measure.membership "
                f"where measure_id = {quote(measure_id)} and newborn_id in {own}"
            )
            add_cells(connection, measure_id, states, sign=-1)
    connection.execute("insert into masked_cell select * from cell")
    connection.execute(
        f"""
        drop view mart.newborn;
        create view mart.newborn as
        select * from recorded_newborn
        union all by name
        select * from {store}.mart.newborn where newborn_id not in {own}
        """
    )
    place_newborns(connection)
    connection.execute(
        """
        drop view mart.newborn;
        create view mart.newborn as select * from recorded_newborn;
        insert into cell select * from masked_cell
        """
    )

    def count(_: Measure, measure_id: str) -> None:
        add_cells(connection, measure_id, "select newborn_id, state from stated")

    for measure in measures.values():
        run_measure(connection, units, measure, count)
