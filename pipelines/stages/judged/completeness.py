"""Completeness: how much of each column and kind is present and usable, month by month.

Counted in sets over ``judged.<table>``: what is there, and what of it is not masked. The columns
come from the contract, so a new column is counted without a word here.
"""

import re
from collections.abc import Mapping, Sequence
from typing import Final

import duckdb

from pipelines.base.sql import fixed_sql
from pipelines.definitions.read_contract import Contract, Table, read_contract
from pipelines.definitions.read_measures import Measure
from pipelines.definitions.read_units import EARLIEST, Unit

# What a row of a table is there to say. A newborn counts as having a usable event of a kind
# where at least one row says it; the time has a line of its own.
_SAYS: Final[Mapping[str, tuple[str, ...]]] = {
    "observation": ("value",),
    "dose": ("status",),
    # A care item with a time and no status is one that was done.
    "care": ("status", "minutes"),
    "finding": ("as_expected",),
}
_NOT_COUNTED: Final = {"record_id", "kind"}


def _counted(table: Table) -> list[str]:
    return [column.name for column in table.stored_columns if column.name not in _NOT_COUNTED]


def _is_recorded(name: str) -> str:
    """A masked cell is recorded: an error flag, or a code on no list, sits on a text."""
    return f"({name} is not null or list_contains(unusable, '{name}'))"


def _cells(table: Table) -> str:
    """Return SQL: by unit, kind, month and column the rows, the recorded and the usable cells."""
    kind = "kind" if table.name in _SAYS else "cast(null as varchar) as kind"
    # One list of counts per group, so that the table is read once for all its columns.
    counts = ", ".join(
        f"{{'column_name': '{name}', 'recorded': count(*) filter (where {_is_recorded(name)}), "
        f"'usable': count({name})}}"
        for name in _counted(table)
    )
    return f"""
    with grouped as (
        select who.unit, {kind}, who.month, count(*) as total, [{counts}] as counts
        from judged.{table.name}
        inner join newborn_in_month as who using (newborn_id)
        group by all
    )

    select
        unit, '{table.name}' as table_name, kind, unnest(counts, recursive := true),
        'all' as shift, month, total,
    from grouped
    where '{table.name}' = 'admission' or kind is not null
    """


def _kinds(table: Table, says: Sequence[str]) -> str:
    """Return SQL: by unit, kind, shift and month the newborns with a row, and with a usable one."""
    usable = f"coalesce({', '.join(f'cast({name} as varchar)' for name in says)}) is not null"
    return f"""
    with each_newborn as (
        select newborn_id, kind, bool_or({usable}) as has_usable
        from judged.{table.name}
        where kind is not null
        group by newborn_id, kind
    )

    select
        who.unit, '{table.name}' as table_name, kind, 'kind' as column_name,
        coalesce(who.shift, 'all') as shift, who.month,
        count(*) as total,
        count(*) as recorded,
        count(*) filter (where has_usable) as usable,
    from each_newborn
    inner join newborn_in_month as who using (newborn_id)
    group by grouping sets ((who.unit, kind, who.month), (who.unit, kind, who.month, who.shift))
    having grouping(who.shift) = 1 or who.shift is not null
    """


def fill_completeness(
    connection: duckdb.DuckDBPyConnection, contract: Contract | None = None
) -> None:
    """Make ``judged.completeness``; ``judged.<table>`` must be there.

    One row per unit, table, kind, column, shift and month of birth: newborns, total (what is
    counted: newborns for an admission column or a kind, rows for a column of a kind), recorded
    and usable of that total.
    """
    connection.execute(fixed_sql("stages/judged/newborn_in_month"))
    tables = contract or read_contract()
    parts = [_cells(table) for table in tables.values()]
    parts += [_kinds(tables[name], says) for name, says in _SAYS.items()]
    select = " union all by name ".join(f"from ({part})" for part in parts)
    connection.execute(f"create or replace temp table filled as {select}")
    connection.execute(fixed_sql("stages/judged/completeness"))
    connection.execute("drop table filled; drop table newborn_in_month")


def policy_starts(
    units: Sequence[Unit], measures: Mapping[str, Measure]
) -> list[tuple[str, str, str]]:
    """Return (unit, column or kind, first day) of every local policy that a column may follow.

    A policy touches whatever its measure's select names. From its first day on, what was usual
    before is no longer a yardstick: a bath put off, or a vaccine no longer given at birth, is
    not an export that went silent.
    """
    return sorted(
        {
            (unit.id, name, policy.start.isoformat())
            for unit in units
            for policy in unit.policies
            if policy.start != EARLIEST
            for name in set(re.findall(r"\w+", measures[policy.measure].sql))
        }
    )
