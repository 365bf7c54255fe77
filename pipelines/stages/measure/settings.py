"""The select ``setting`` that a measure's SQL reads: the numbers in force for each newborn."""

from collections.abc import Mapping

from pipelines.base.sql import quote
from pipelines.definitions.policy import Periods
from pipelines.definitions.read_measures import Measure


def _literal(value: float | bool | str | None) -> str:
    if value is None:
        return "cast(null as double)"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return quote(value)
    return f"cast({value!r} as double)"


def setting(policies: Mapping[str, Periods], measure: Measure) -> str:
    """Return the select that a measure's SQL reads as ``setting``; ``policies`` by unit id.

    One row per newborn: newborn_id, the measure's parameters, at_least, at_most, target;
    chosen by unit and birth date (by birth month where no date is kept).
    """
    names = list(measure.numbers)
    rows = [
        (quote(unit), start, end, [_literal(value) for value in numbers.values()])
        for unit, of_unit in policies.items()
        for start, end, numbers in of_unit
    ]
    first = rows[0][-1]
    is_for_all = all(policies.values())  # a unit's own measure asks nobody else
    if is_for_all and all(values == first for *_, values in rows):
        # Most measures: one policy for everybody, whose numbers are then constants.
        same = ", ".join(f"{value} as {name}" for value, name in zip(first, names, strict=True))
        return f"select newborn_id, {same} from mart.newborn"
    listed = ", ".join(
        f"({unit}, date '{start:%Y-%m-%d}', date '{end:%Y-%m-%d}', {', '.join(values)})"
        for unit, start, end, values in rows
    )
    return f"""
        select newborn.newborn_id, {", ".join(names)}
        from mart.newborn as newborn
        inner join (values {listed}) as policy (unit, valid_from, valid_before, {", ".join(names)})
            on newborn.unit = policy.unit
            -- A newborn whose birth month could not be read is judged by the first policy.
            and coalesce(newborn.birth_date, newborn.birth_month, date '0001-01-01')
                >= policy.valid_from
            and coalesce(newborn.birth_date, newborn.birth_month, date '0001-01-01')
                < policy.valid_before
    """
