"""What DEVELOPERS.md says of states, exclusions and results, in loops over newborns.

Shares no code with `pipelines`. From a measure's `.sql` file only the header is read
(window, parameters, exclusions, treatment of missing): the numbers have their home there.
"""

import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import sqrt
from typing import Any, NamedTuple

from .reader import PIPELINES, Newborn, Row

# Two-sided 95 % point of the standard normal distribution, as printed in any table of it
# (from memory).
Z_95 = 1.959963984540054
COUNTED = ("met", "late", "not_done", "not_met", "not_documented", "unusable")


@dataclass(frozen=True)
class Facts:
    """What a measure says of one newborn (or one ``item`` of it); times in minutes."""

    is_documented: bool
    is_usable: bool
    item: int = 1
    exclusion: str | None = None
    exception: str | None = None
    not_done_reason: str | None = None
    minutes: Fraction | None = None
    due_minutes: Fraction | None = None
    closes_minutes: Fraction | None = None
    is_met: bool | None = None
    value: Fraction | None = None


class Member(NamedTuple):
    """One row of membership; ``period`` is YYYY-MM or None."""

    record_id: str
    measure_id: str
    item: int
    state: str
    minutes: Fraction | None
    period: str | None = None


@dataclass(frozen=True)
class Band:
    """A band of values, ``at_least`` inside and ``below`` outside; None is open."""

    id: str
    at_least: Fraction | None
    below: Fraction | None

    def holds(self, value: Fraction) -> bool:
        """Whether the value lies in the band."""
        above = self.at_least is None or value >= self.at_least
        return above and (self.below is None or value < self.below)


@dataclass(frozen=True)
class Header:
    """The numbers of one measure's header."""

    id: str
    kind: str
    exclude: tuple[str, ...]
    missing: str
    window: Mapping[str, Any]
    parameters: Mapping[str, Any]
    bands: tuple[Band, ...] = ()


@dataclass(frozen=True)
class Setting:
    """A measure's numbers for one newborn, after the unit's policy of its birth date."""

    numbers: Mapping[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Fraction:
        return Fraction(str(self.numbers[name]))

    def get(self, name: str) -> Fraction | None:
        """Return a number, None where neither the header nor the policy gives one."""
        return self[name] if self.numbers.get(name) is not None else None

    def is_on(self, name: str) -> bool:
        """Return a switch."""
        return bool(self.numbers[name])


def _exact(value: Any) -> Fraction | None:
    return None if value is None else Fraction(str(value))


def read_header(measure_id: str) -> Header:
    """Read the header, and only the header, of one shipped measure."""
    path = PIPELINES / "measures" / f"{measure_id}.sql"
    prose = path.read_text(encoding="utf-8").split("/*", 1)[1].split("*/", 1)[0]
    said = tomllib.loads(prose)
    bands = tuple(
        Band(band["id"], _exact(band.get("at_least")), _exact(band.get("below")))
        for band in said.get("bands", ())
    )
    return Header(
        measure_id,
        said["kind"],
        tuple(said.get("exclude", ())),
        said["missing"],
        said.get("window", {}),
        said.get("parameters", {}),
        bands,
    )


def setting_for(header: Header, spec: Mapping[str, Any], newborn: Newborn) -> Setting:
    """Header numbers, overlaid by the unit's policies in force on the birth date, oldest first.

    A newborn whose birth date is not known gets only the policies that have no start.
    """
    numbers = {**header.window, **header.parameters}
    in_force = []
    for place, policy in enumerate(spec.get("policy", ())):
        start = policy.get("from")
        has_begun = start is None or (newborn.policy_date and newborn.policy_date >= start)
        if policy["measure"] == header.id and has_begun:
            in_force.append((str(start or ""), place, policy))
    for _, _, policy in sorted(in_force, key=lambda item: item[:2]):
        numbers.update({key: policy[key] for key in policy if key not in {"measure", "from"}})
    return Setting(numbers)


# --- what happened to the newborn ------------------------------------------------------------


def is_done(row: Row) -> bool:
    """A care item counts as done by its status, or by a time where the status is blank."""
    status = row.get("status")
    if status is None and "status" not in row.unusable:
        return row.get("minutes") is not None
    return bool(status == "done")


def starts_of(newborn: Newborn, kind: str) -> list[Fraction | None]:
    """When cooling or a comfort-care plan began; None where only rows without a time say so."""
    rows = newborn.of_kind("care", kind)
    starts = [row.get("minutes") for row in rows if row.get("status") != "not_done"]
    return [start for start in starts if start is not None] or starts


def _began(newborn: Newborn, kind: str, closes: Fraction | None) -> bool:
    """Whether it began before the window closed, or at a time that is not known."""
    starts = starts_of(newborn, kind)
    return None in starts or any(_before(start, closes) for start in starts)


def _before(minutes: Fraction | None, closes: Fraction | None) -> bool:
    """Whether it was before the window closed; of a closing minute not known only the first
    minute of life is sure to be."""
    return minutes is not None and minutes < (1 if closes is None else closes)


def exclusion_left(newborn: Newborn, how: str, closes: Fraction | None) -> bool:
    """Died or transferred before the window closed, or at a time that is not known."""
    left = newborn.get("discharge_minutes")
    return newborn.get("disposition") == how and (left is None or _before(left, closes))


def standard_exclusion(
    newborn: Newborn, exclude: Iterable[str], closes: Fraction | None
) -> str | None:
    """Return the first standard exclusion that applies, None where none does."""
    applies = {
        "stillborn": newborn.get("live_birth") is False,
        "died": exclusion_left(newborn, "died", closes),
        "comfort_care": _began(newborn, "comfort_care", closes),
        "transferred": exclusion_left(newborn, "transfer", closes),
        "born_elsewhere": newborn.get("birth_place") in {"before_arrival", "other_site"},
        "cooling": _began(newborn, "cooling", closes),
    }
    return next((name for name in exclude if applies[name]), None)


# --- state, in the engine's order --------------------------------------------------------------


def _is_within(facts: Facts, setting: Setting) -> bool:
    low = setting.get("at_least")
    high = facts.due_minutes if facts.due_minutes is not None else setting.get("at_most")
    if facts.minutes is None or (low is None and high is None):
        return False
    above = low is None or facts.minutes >= low
    return above and (high is None or facts.minutes <= high)


def _is_late(facts: Facts, setting: Setting) -> bool:
    high = facts.due_minutes if facts.due_minutes is not None else setting.get("at_most")
    return facts.minutes is not None and high is not None and facts.minutes > high


def state_of(facts: Facts, excluded: bool, setting: Setting, band: Band | None) -> str:
    """Derive the state in the order DEVELOPERS.md gives."""
    has_window = band is None and facts.is_met is None
    if band is not None:
        is_met = facts.value is not None and band.holds(facts.value)
    else:
        is_met = _is_within(facts, setting) if facts.is_met is None else facts.is_met
    in_order = {
        "exclusion": excluded,
        "met": is_met and facts.is_documented and facts.is_usable,
        "exception": facts.exception is not None,
        "not_done": facts.not_done_reason is not None,
        "not_documented": not facts.is_documented,
        "unusable": not facts.is_usable,
        "late": has_window and _is_late(facts, setting),
    }
    return next((state for state, holds in in_order.items() if holds), "not_met")


def members_of(header: Header, setting: Setting, newborn: Newborn, facts: Facts) -> list[Member]:
    """Return the membership rows of one newborn's facts: one, or one per band."""
    closes = next(
        (
            minute
            for minute in (facts.due_minutes, facts.closes_minutes, setting.get("at_most"))
            if minute is not None
        ),
        None,
    )
    standard = standard_exclusion(newborn, header.exclude, closes)
    excluded = facts.exclusion is not None or standard is not None
    period = newborn.policy_date.strftime("%Y-%m") if newborn.policy_date else None
    rows = []
    for band in header.bands or (None,):
        measure_id = f"{header.id}_{band.id}" if band else header.id
        state = state_of(facts, excluded, setting, band)
        rows.append(Member(newborn.record_id, measure_id, facts.item, state, facts.minutes, period))
    return rows


# --- results ------------------------------------------------------------------------------------


def wilson(met: int, total: int) -> tuple[float, float]:
    """Wilson's 95 % score interval of a proportion (Wilson, JASA 1927; 22:209-212).

    The two roots p of (met / total - p)^2 = z^2 p (1 - p) / total.
    """
    share, per = met / total, Z_95**2 / total
    middle, reach = 2 * share + per, sqrt(per * (per + 4 * share * (1 - share)))
    return (middle - reach) / (2 + 2 * per), (middle + reach) / (2 + 2 * per)


@dataclass(frozen=True)
class Result:
    """Counts and rate of one measure, unit and stretch of time; rate None where nobody counts."""

    initial_population: int
    exclusion: int
    denominator: int
    exception: int
    numerator: int
    late: int
    not_done: int
    not_met: int
    not_documented: int
    unusable: int
    rate: float | None
    lower: float | None
    upper: float | None
    if_none_met: float | None
    if_all_met: float | None


def result_of(states: Iterable[str], missing: str) -> Result:
    """Count the states of one group and derive the rate, its interval and its bounds."""
    count = Counter(states)
    total = sum(count.values())
    denominator = total - count["exclusion"]
    eligible = denominator - count["exception"]
    unknown = count["not_documented"] + count["unusable"]
    rated = eligible - (unknown if missing == "left_out" else 0)
    met = count["met"]
    lower, upper = wilson(met, rated) if rated else (None, None)
    return Result(
        initial_population=total,
        exclusion=count["exclusion"],
        denominator=denominator,
        exception=count["exception"],
        numerator=met,
        late=count["late"],
        not_done=count["not_done"],
        not_met=count["not_met"],
        not_documented=count["not_documented"],
        unusable=count["unusable"],
        rate=met / rated if rated else None,
        lower=lower,
        upper=upper,
        if_none_met=met / eligible if eligible else None,
        if_all_met=(met + unknown) / eligible if eligible else None,
    )
