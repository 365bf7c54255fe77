"""The select ``setting`` that a measure's SQL reads: the numbers in force for each newborn."""

import datetime as dt
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


def _of_unit(periods: Periods, name: str) -> list[tuple[dt.date, str]]:
    """Return the values of one number as SQL, each with the birth date before which it holds."""
    told: list[tuple[dt.date, str]] = []
    for _, before, numbers in periods:
        value = _literal(numbers[name])
        if told and told[-1][1] == value:
            told.pop()
        told.append((before, value))
    return told


# A newborn whose birth month could not be read is judged by the first policy.
_BORN = "coalesce(newborn.birth_date, newborn.birth_month, date '0001-01-01')"


def number_of(policies: Mapping[str, Periods], name: str) -> str:
    """Return one number in force as SQL: a constant, or by ``newborn``'s unit and birth date."""
    by_unit = {unit: _of_unit(periods, name) for unit, periods in policies.items() if periods}
    values = {value for told in by_unit.values() for _, value in told}
    if len(values) == 1:
        return values.pop()
    whens = [
        f"when newborn.unit = {quote(unit)}"
        + (f" and {_BORN} < date '{before:%Y-%m-%d}'" if place < len(told) else "")
        + f" then {value}"
        for unit, told in by_unit.items()
        for place, (before, value) in enumerate(told, start=1)
    ]
    return f"case {' '.join(whens)} end"


def is_for_all(policies: Mapping[str, Periods]) -> bool:
    """Return whether every unit is asked; of a unit's own measure nobody else is."""
    return all(policies.values())


def setting(policies: Mapping[str, Periods], measure: Measure) -> str:
    """Return the select that a measure's SQL reads as ``setting``; ``policies`` by unit id.

    One row per newborn: newborn_id, the measure's parameters, at_least, at_most, target;
    chosen by unit and birth date (by birth month where no date is kept). A number that is
    everybody's is a constant, and no policy is joined: it would be planned for every measure.
    """
    numbers = "".join(f", {number_of(policies, name)} as {name}" for name in measure.numbers)
    asked = ", ".join(quote(unit) for unit, periods in policies.items() if periods)
    where = "" if is_for_all(policies) else f" where newborn.unit in ({asked})"
    return f"select newborn.newborn_id{numbers} from mart.newborn as newborn{where}"
