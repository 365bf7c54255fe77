"""The view ``setting`` that a measure's select reads: the numbers in force for each newborn."""

from collections.abc import Sequence

import duckdb

from pipelines.base.sql import quote
from pipelines.definitions.policy import periods
from pipelines.definitions.read_measures import Measure
from pipelines.definitions.read_units import Unit


def _literal(value: float | bool | str | None) -> str:
    if value is None:
        return "cast(null as double)"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return quote(value)
    return f"cast({value!r} as double)"


def create_setting(
    connection: duckdb.DuckDBPyConnection, units: Sequence[Unit], measure: Measure
) -> None:
    """Create the view ``setting`` that the measure's select reads.

    One row per newborn: newborn_id, the measure's parameters, at_least, at_most, target;
    chosen by unit and birth date (by birth month where no date is kept).
    """
    rows = [
        f"({quote(unit.id)}, date '{start:%Y-%m-%d}', date '{end:%Y-%m-%d}', "
        f"{', '.join(_literal(value) for value in numbers.values())})"
        for unit in units
        for start, end, numbers in periods(unit, measure)
    ]
    names = ", ".join(measure.numbers)
    connection.execute(
        f"""
        create or replace temp view setting as
        select newborn.newborn_id, {names}
        from mart.newborn as newborn
        inner join (values {", ".join(rows)}) as policy (unit, valid_from, valid_before, {names})
            on newborn.unit = policy.unit
            -- A newborn whose birth month could not be read is judged by the first policy.
            and coalesce(newborn.birth_date, newborn.birth_month, date '0001-01-01')
                >= policy.valid_from
            and coalesce(newborn.birth_date, newborn.birth_month, date '0001-01-01')
                < policy.valid_before
        """
    )
