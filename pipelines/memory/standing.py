"""What of all deliveries stands: one rule (``sql/standing.sql``), and what a step changes of it."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb

from pipelines.base.sql import fixed_sql, quote
from pipelines.memory.kept import newborns_file
from pipelines.memory.steps import Step, live

_HELD = (
    "step integer, unit varchar, record_id varchar, birth_month date, is_whole boolean, "
    "row_count bigint, content varchar"
)
_HIDES = "step integer, unit varchar, of_step integer, month_from date, month_to date"


@dataclass(frozen=True)
class Difference:
    """What a step changes of what stands, in counts of newborns (``late``: of rows).

    ``same``, ``other``, ``fewer``: newborns that stood and now come from another delivery, which
    says the same of them, something else, and that in fewer rows. ``unknown``: newborns of whom
    late entries are there and no admission row. ``stay``: newborns of the same months of birth
    that stand and that the new delivery does not hold.
    """

    new: int
    same: int
    other: int
    fewer: int
    gone: int
    late: int
    late_gone: int
    unknown: int
    stay: int
    newborns: int

    @property
    def is_nothing(self) -> bool:
        return not (self.new or self.other or self.gone or self.late or self.late_gone)


def fill_standing(
    connection: duckdb.DuckDBPyConnection,
    steps: Sequence[Step],
    folder_of: Callable[[Step], Path],
    name: str = "standing",
) -> None:
    """Make the temporary table ``name``: step, unit, record_id, birth_month, is_whole, ...

    One row per delivery and newborn of which something stands after ``steps``.
    """
    left = live(steps)
    _fill(connection, left, left, folder_of)
    connection.execute(f"create or replace temp table {name} as {fixed_sql('memory/standing')}")


def fill_forgotten(
    connection: duckdb.DuckDBPyConnection,
    steps: Sequence[Step],
    folder_of: Callable[[Step], Path],
    withdrawal: Step,
) -> dict[int, tuple[int, int]]:
    """Make the temporary table ``forgotten`` (step, record_id): what a withdrawal lets go of.

    Of every delivery that is kept, undone or not. Returns by step: newborns held, newborns gone.
    """
    _fill(connection, steps, [withdrawal], folder_of)
    connection.execute("create or replace temp table forgotten as select step, record_id from gone")
    found = connection.execute(
        "select step, count(*), count(forgotten.record_id) from held "
        "left join forgotten using (step, record_id) group by step"
    ).fetchall()
    return {int(step): (int(held), int(gone)) for step, held, gone in found}


def _fill(
    connection: duckdb.DuckDBPyConnection,
    bringing: Sequence[Step],
    hiding: Sequence[Step],
    folder_of: Callable[[Step], Path],
) -> None:
    """Make the temporary tables held, hides and gone."""
    connection.execute(f"create or replace temp table held ({_HELD})")
    connection.execute(f"create or replace temp table hides ({_HIDES})")
    for step in bringing:
        if step.folder is not None and not step.is_forgotten:
            path = quote(str(newborns_file(folder_of(step))))
            connection.execute(
                f"insert into held select {step.number}, {quote(step.unit)}, * "
                f"from read_parquet({path})"
            )
    for step in (one for one in hiding if one.lets_go):
        connection.execute(
            "insert into hides values (?, ?, ?, ?, ?)",
            [step.number, step.unit, step.of_step, step.month_from, step.month_to],
        )
    connection.execute(f"create or replace temp table gone as {fixed_sql('memory/gone')}")


def difference(
    connection: duckdb.DuckDBPyConnection, before: str, after: str, step: int
) -> Difference:
    """Compare two tables of ``fill_standing``; ``step``: the number of the new step."""
    row = connection.execute(
        f"""
        with was as (from {before} where is_whole),
        now as (from {after} where is_whole),
        both_sides as (
            select
                was.step as was_step, now.step as now_step,
                was.content is distinct from now.content as is_other,
                now.row_count < was.row_count as is_fewer,
            from was full join now using (unit, record_id)
        ),
        late_was as (select unit, record_id, content, row_count from {before} where not is_whole),
        late_now as (select unit, record_id, content, row_count from {after} where not is_whole),
        months as (select unit, birth_month from now where step = {step} group by all)
        select
            count(*) filter (where was_step is null),
            count(*) filter (where was_step <> now_step and not is_other),
            count(*) filter (where was_step <> now_step and is_other),
            count(*) filter (where was_step <> now_step and is_other and is_fewer),
            count(*) filter (where now_step is null),
            (select coalesce(sum(row_count), 0) from late_now anti join late_was
                using (unit, record_id, content)),
            (select coalesce(sum(row_count), 0) from late_was anti join late_now
                using (unit, record_id, content)),
            (select count(*) from {after} anti join now using (unit, record_id)
                where step = {step}),
            (select count(*) from now semi join months using (unit, birth_month)
                where step <> {step}),
            (select count(*) from now),
        from both_sides
        """
    ).fetchone()
    return Difference(*(int(count) for count in row or [0] * 10))


def newborns_won(
    connection: duckdb.DuckDBPyConnection, table: str = "standing"
) -> dict[int, tuple[int, int]]:
    """Return of every delivery of which something stands: newborns it wins, late rows."""
    found = connection.execute(
        "select step, count(*) filter (where is_whole), "
        "coalesce(sum(row_count) filter (where not is_whole), 0)::bigint "
        f"from {table} group by step"
    ).fetchall()
    return {int(step): (int(won), int(late)) for step, won, late in found}


def months_of(
    connection: duckdb.DuckDBPyConnection, newborns: Path
) -> tuple[int, int, dt.date | None, dt.date | None, str]:
    """Return of a delivery: newborns, rows, first and last month of birth, digest of content."""
    row = connection.execute(
        "select count(*) filter (where is_whole), coalesce(sum(row_count), 0)::bigint, "
        "min(birth_month), max(birth_month), "
        "md5(coalesce(string_agg(md5(row(record_id, is_whole, content)::varchar), '' "
        f"order by record_id), '')) from read_parquet({quote(str(newborns))})"
    ).fetchone()
    if row is None:
        raise AssertionError("a count gives a row")
    return int(row[0]), int(row[1]), row[2], row[3], str(row[4])
