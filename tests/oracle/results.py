"""Counts, rates, intervals, bounds and centiles, in loops over states.

What is counted, and for which months, quarters and parts of the newborns, stands in
DEVELOPERS.md under "measure".
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import floor, sqrt
from typing import NamedTuple

from .engine import Member, read_header
from .reader import Newborn, UnitExport

# Two-sided 95 % point of the standard normal distribution, as printed in any table of it
# (from memory).
Z_95 = 1.959963984540054
ALL_NEWBORNS, NOT_RECORDED = "all newborns", "not recorded"
STRATIFIERS = ("race_ethnicity", "language", "payer", "mode_of_birth", "birth_place", "sex")
# Completed weeks at which each band of gestation ends.
GESTATION_BANDS = (
    (28, "under 28 weeks"),
    (32, "28 to 31 weeks"),
    (34, "32 to 33 weeks"),
    (37, "34 to 36 weeks"),
)
BANDS = ("arrival_cold", "lowest_first_day")
UNMEASURED = ("not_documented", "unusable", "not_done", "not_met")


class ResultKey(NamedTuple):
    """Where a result belongs; ``start`` is YYYY-MM, None for all months together."""

    measure_id: str
    period_kind: str
    start: str | None
    stratifier: str = ALL_NEWBORNS
    stratum: str = ALL_NEWBORNS


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
    counted: int
    missing_left_out: bool
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
        counted=rated,
        missing_left_out=missing == "left_out",
        rate=met / rated if rated else None,
        lower=lower,
        upper=upper,
        if_none_met=met / eligible if eligible else None,
        if_all_met=(met + unknown) / eligible if eligible else None,
    )


# --- which months and which parts a newborn belongs to ------------------------------------------


def _gestation_band(newborn: Newborn) -> str:
    days = newborn.get("gestational_age_days")
    if days is None:
        return NOT_RECORDED
    return next((name for below, name in GESTATION_BANDS if days < below * 7), "37 weeks or more")


def _shift(newborn: Newborn) -> str:
    """Day is 7:00 to 18:59."""
    if newborn.birth_hour is None:
        return NOT_RECORDED
    return "day" if 7 <= newborn.birth_hour <= 18 else "night"


def _quarter(month: str) -> str:
    """The first month of a month's calendar quarter."""
    year, number = month.split("-")
    return f"{year}-{(int(number) - 1) // 3 * 3 + 1:02d}"


Place = tuple[str, str | None, str, str]


def places_of(newborn: Newborn) -> Iterator[Place]:
    """Yield (period kind, start, stratifier, stratum) for every result a newborn counts in."""
    strata = {name: newborn.get(name) or NOT_RECORDED for name in STRATIFIERS}
    strata["gestation_band"] = _gestation_band(newborn)
    strata["shift"] = _shift(newborn)
    month = newborn.period
    yield ("all", None, ALL_NEWBORNS, ALL_NEWBORNS)
    if month:
        yield ("month", month, ALL_NEWBORNS, ALL_NEWBORNS)
        yield ("quarter", _quarter(month), ALL_NEWBORNS, ALL_NEWBORNS)
    for stratifier, stratum in strata.items():
        yield ("all", None, stratifier, stratum)
        if month:
            yield ("quarter", _quarter(month), stratifier, stratum)


class _Grouped:
    """Members of one unit by measure and by the places of their newborn."""

    def __init__(self, export: UnitExport, members: Iterable[Member]) -> None:
        self.places = {one.record_id: tuple(places_of(one)) for one in export.newborns}
        self.by_measure: dict[str, list[Member]] = defaultdict(list)
        for member in members:
            self.by_measure[member.measure_id].append(member)

    def of(self, measure_id: str) -> dict[Place, list[Member]]:
        """Every place of the unit, also where the measure has nobody."""
        groups: dict[Place, list[Member]] = {
            place: [] for places in self.places.values() for place in places
        }
        for member in self.by_measure[measure_id]:
            for place in self.places[member.record_id]:
                groups[place].append(member)
        return groups


def _missing(measure_id: str) -> str:
    of_bands = [name for name in BANDS if measure_id.startswith(f"{name}_")]
    return read_header(of_bands[0] if of_bands else measure_id).missing


def own_results(
    export: UnitExport, members: Iterable[Member], measure_ids: Iterable[str]
) -> dict[ResultKey, Result]:
    """Count one unit's membership for every month, quarter, in all, and for every stratum.

    Where the unit had newborns but the measure had no case, none are counted.
    """
    grouped = _Grouped(export, members)
    return {
        ResultKey(name, *place): result_of((one.state for one in group), _missing(name))
        for name in measure_ids
        for place, group in grouped.of(name).items()
    }


# --- spread --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Spread:
    """How the minutes of one group lie; the centiles are None where nobody was measured."""

    measured: int
    not_measured: int
    median_minutes: float | None
    p90_minutes: float | None


def centile(values: Sequence[float], share: float) -> float:
    """Interpolate linearly between the two neighbours of rank share * (n - 1), from 0."""
    ordered = sorted(values)
    rank = share * (len(ordered) - 1)
    low = floor(rank)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (rank - low) * (ordered[high] - ordered[low])


def own_spread(
    export: UnitExport, members: Iterable[Member], measure_ids: Iterable[str]
) -> Mapping[ResultKey, Spread]:
    """Median and 90th centile of the minutes, wherever somebody is not excluded."""
    grouped = _Grouped(export, members)
    found = {}
    for name in measure_ids:
        for place, group in grouped.of(name).items():
            here = [one for one in group if one.state != "exclusion"]
            if not here:
                continue
            minutes = [
                float(one.minutes) for one in here if one.state == "met" and one.minutes is not None
            ]
            found[ResultKey(name, *place)] = Spread(
                measured=len(minutes),
                not_measured=sum(one.state in UNMEASURED for one in here),
                median_minutes=centile(minutes, 0.5) if minutes else None,
                p90_minutes=centile(minutes, 0.9) if minutes else None,
            )
    return found
