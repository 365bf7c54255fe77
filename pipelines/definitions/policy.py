"""The numbers in force: a measure's defaults, overridden by the unit from a birth date on."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_measures import Measure, refuse_no_measure
from pipelines.definitions.read_units import EARLIEST, Policy, Unit

_LATEST = dt.date(9999, 12, 31)
Numbers = dict[str, float | bool | str | None]
# (from, before, numbers) in order of date; together they cover every birth date.
Periods = list[tuple[dt.date, dt.date, Numbers]]
# Measure id -> unit id -> periods.
InForce = Mapping[str, Mapping[str, Periods]]


def check_policies(units: Sequence[Unit], measures: Mapping[str, Measure]) -> None:
    """Every policy must name a measure and numbers that the measure has.

    Raises DeclarationError naming the unit file, the measure or the key.
    """
    every = measures
    for unit in units:
        file = unit.file_name
        measures = {name: one for name, one in every.items() if one.is_for(unit.id)}
        for place, policy in enumerate(unit.policies, start=1):
            where = f"{file} policy[{place}]"
            if policy.measure not in measures:
                raise DeclarationError(
                    f"{where}: there is no measure '{policy.measure}'."
                    f"{nearest(policy.measure, measures)}"
                )
            numbers = measures[policy.measure].numbers
            follows = measures[policy.measure].follows
            for key, value in policy.numbers.items():
                if key not in numbers:
                    raise DeclarationError(
                        f"{where}: measure '{policy.measure}' has no number '{key}'."
                        f"{nearest(key, numbers)}"
                    )
                if key in follows:
                    raise DeclarationError(
                        f"{where}: '{key}' of '{policy.measure}' is set once, under "
                        f"measure = '{follows[key]}'."
                    )
                _check_value(where, key, value, numbers[key])
        _check_changes(unit, file, measures)
        for place, line in enumerate(unit.signals, start=1):
            refuse_no_measure(f"{file} signals[{place}]", line.measure, measures)


def result_ids(measures: Mapping[str, Measure]) -> dict[str, Sequence[str]]:
    """Return measure file -> the ids under which it has results."""
    return {name: measure.result_ids for name, measure in measures.items()}


def _check_value(where: str, key: str, value: object, default: object) -> None:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if key in {"at_least", "at_most"} and not is_number:
        raise DeclarationError(f"{where}: '{key}' must be a number of minutes.")
    if isinstance(default, bool) and not isinstance(value, bool):
        raise DeclarationError(f"{where}: '{key}' must be true or false, without quotes.")
    if isinstance(default, str) and not isinstance(value, str):
        raise DeclarationError(f"{where}: '{key}' must be words in quotes.")
    if isinstance(default, int | float) and not isinstance(default, bool) and not is_number:
        raise DeclarationError(f"{where}: '{key}' must be a number, without quotes.")
    if key == "target" and not (is_number and 0 <= float(str(value)) <= 1):
        raise DeclarationError(f"{where}: write the target as a share from 0 to 1, such as 0.9.")


# What is a number of every newborn, such as the temperature of the room of birth.
_NUMBERS_OF_NEWBORNS = frozenset(
    name
    for name, column in read_contract()["admission"].columns.items()
    if column.type in {"decimal", "integer"}
)


def _check_changes(unit: Unit, file: str, measures: Mapping[str, Measure]) -> None:
    for change in unit.changes:
        for name in (*change.measures, *change.balancing):
            refuse_no_measure(f"{file} changes '{change.id}'", name, measures)
        for name in change.process:
            results = {each for one in measures.values() for each in one.result_ids}
            known = {*_NUMBERS_OF_NEWBORNS, *measures, *results}
            if name not in known:
                raise DeclarationError(
                    f"{file} changes '{change.id}': process '{name}' is neither a measure nor a "
                    f"number of every newborn.{nearest(name, known)}"
                )


def _policies(unit: Unit, measure: Measure) -> list[Policy]:
    """Return what the unit sets for a measure, with what it sets where the measure follows."""
    found = []
    for policy in unit.policies:
        followed = {
            key: policy.numbers[key]
            for key, other in measure.follows.items()
            if other == policy.measure and key in policy.numbers
        }
        if policy.measure == measure.id:
            found.append(policy)
        elif followed:
            found.append(Policy(measure.id, policy.start, followed))
    return found


def in_force(units: Sequence[Unit], measures: Iterable[Measure]) -> InForce:
    """Return what every unit's policies make of every measure: worked out once for a build."""
    return {measure.id: {unit.id: periods(unit, measure) for unit in units} for measure in measures}


def periods(unit: Unit, measure: Measure) -> Periods:
    """Return (from, before, numbers) in order of date; together they cover every birth date.

    None for a measure that is another unit's own: nobody here is judged by it. A later policy
    keeps what it does not mention from the one before it. A parameter that follows another
    measure is set by the policies of that one.
    """
    if not measure.is_for(unit.id):
        return []
    own = sorted(_policies(unit, measure), key=lambda policy: policy.start)
    starts = sorted({EARLIEST, *(policy.start for policy in own)})
    found = []
    for start, end in zip(starts, [*starts[1:], _LATEST], strict=True):
        numbers = dict(measure.numbers)
        for policy in own:
            if policy.start <= start:
                numbers.update(policy.numbers)
        found.append((start, end, numbers))
    return found
