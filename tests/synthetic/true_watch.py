"""What is true of each newborn, measure by measure: sets of signs, glucose, minutes.

As ``true_events``: from the prose of the measures' headers and the generator's true tables.
"""

from collections.abc import Callable
from itertools import pairwise
from typing import Final

import numpy as np
import pandas as pd

from tests.oracle.sizes import weight_centile

from .true_days import body
from .true_events import DAY, Events, Known

# Which readings are in range, both edges included.
RANGES: Final = {
    "temperature": (36.5, 37.5),
    "heart_rate": (100, 160),
    "respiratory_rate": (30, 60),
}
Set = tuple[float, bool]  # minute of the last sign; whether all three are in range
Minutes = pd.DataFrame  # index: newborn; in_rate: bool; minutes: float


def _risk(events: Events) -> tuple[pd.Series, pd.Series]:
    """Return whose glucose may run low for 24 hours, and whose for 12; by the true facts."""
    babies = events.babies
    days, weight = babies["gestational_age_days"], babies["weight_g"]
    centile = pd.Series(
        [
            weight_centile(one_sex, d, w)
            for one_sex, d, w in zip(babies["sex"].astype(object), days, weight, strict=True)
        ],
        babies.index,
        dtype=float,
    )
    term = days >= 259
    longer = days.between(238, 258) | (term & ((weight < 2500) | (centile < 10)))
    diabetes = babies["maternal_diabetes"].fillna(False).astype(bool)
    return longer, diabetes | (term & ((weight > 4000) | (centile >= 90)))


def _glucose_minutes(events: Events) -> pd.Series:
    """Return each newborn's minutes of glucose, in order, as lists."""
    rows = events._of("observation", ["glucose"]).sort_values("minutes")
    return rows.groupby("newborn")["minutes"].agg(list).reindex(events.babies.index)


def _glucose_check(events: Events) -> Known:
    longer, shorter = _risk(events)
    until = pd.Series(np.where(longer, DAY, 720.0), events.babies.index)
    minutes = [one if isinstance(one, list) else [] for one in _glucose_minutes(events)]
    in_time = pd.Series([bool(one) and one[0] <= 90 for one in minutes], until.index)
    third = pd.Series(
        [
            ([minute for minute in one if minute <= end] + [np.nan] * 3)[2]
            for one, end in zip(minutes, until, strict=True)
        ],
        until.index,
        dtype=float,
    )
    met = in_time & third.notna()
    seen = third.where(in_time, 90.0)
    own = events.judged(events.owned(45), met, until, seen, ends_at_home=True)
    return events.known(own & (longer | shorter), met)


def _glucose_low_risk(events: Events) -> Known:
    longer, shorter = _risk(events)
    known = events.babies[["weight_g", "gestational_age_days"]].notna().all(axis=1)
    low = known & (events.babies["gestational_age_days"] >= 259) & ~longer & ~shorter
    first = events.first(events._of("observation", ["glucose"]))
    met = first <= DAY
    who = events.owned(45) & low & ~(events.moved < DAY)
    return events.known(events.judged(who, met, DAY, first.where(met), is_for_warm=True), met)


def _sets(rows: pd.DataFrame) -> list[Set]:
    """Return one newborn's complete sets in order: the minute of the last sign, in range."""
    last: dict[str, tuple[float, bool]] = {}
    found = []
    for minute, signs in rows.groupby("minutes"):
        for kind, calm in signs.groupby("kind", observed=True)["calm"].all().items():
            last[str(kind)] = (float(minute), bool(calm))
        if len(last) == 3 and minute - min(at for at, _ in last.values()) <= 10:
            found.append((float(minute), all(calm for _, calm in last.values())))
    return found


def _watched(found: list[Set], away: float) -> tuple[float, float]:
    """Return when the watch ended (settled, gone, or 6 hours) and the longest gap until then."""
    began: float | None = None
    ends = 360.0
    for minute, calm in found:
        began = (minute if began is None else began) if calm else None
        if began is not None and minute - began >= 120:
            ends = minute
            break
    ends = min(ends, away)
    minutes = [0.0, *(minute for minute, _ in found if minute < ends), ends]
    return ends, max(after - before for before, after in pairwise(minutes))


def _sets_of(events: Events, until: float) -> dict[int, list[Set]]:
    rows = events._of("observation", RANGES)
    rows = rows[(rows["minutes"] <= until) & rows["value"].notna()]
    kind = rows["kind"].astype(str)
    low, high = (kind.map({name: one[end] for name, one in RANGES.items()}) for end in (0, 1))
    rows = rows.assign(kind=kind, calm=rows["value"].round(6).between(low, high))
    return {int(newborn): _sets(own) for newborn, own in rows.groupby("newborn")}


def _away(events: Events) -> pd.Series:
    return pd.concat([events.moved, events.home], axis=1).min(axis=1).fillna(np.inf)


def _half_hourly(events: Events) -> Known:
    away = _away(events)
    ends, gap = pd.Series(360.0, away.index).clip(upper=away), pd.Series(np.inf, away.index)
    for newborn, found in _sets_of(events, 360).items():
        ends[newborn], gap[newborn] = _watched(found, away[newborn])
    met = gap <= 35
    who = events.owned() & ~(away < 120)
    return events.known(events.judged(who, met, ends, ends, is_for_warm=True), met)


def _longest_gap(events: Events) -> Minutes:
    away = _away(events)
    ends, longest = away.clip(upper=240), pd.Series(np.nan, away.index)
    for newborn, found in _sets_of(events, 240).items():
        at = [0.0, *(minute for minute, _ in found if minute <= ends[newborn]), ends[newborn]]
        if len(at) > 2:
            longest[newborn] = max(np.diff(at))
    who = events.owned() & ~(away < 120) & longest.notna()
    own = events.judged(who, longest.notna(), ends, ends, is_for_warm=True)
    return pd.DataFrame({"in_rate": own, "minutes": longest})


def _minutes_to_first(events: Events) -> Minutes:
    first = events.first(body(events))
    own = events.judged(events.owned(), first.notna(), DAY, first, is_for_warm=True)
    return pd.DataFrame({"in_rate": own & (first <= DAY), "minutes": first})


WATCH: Final[dict[str, Callable[[Events], Known]]] = {
    "half_hourly_observation": _half_hourly,
    "glucose_check": _glucose_check,
    "glucose_low_risk": _glucose_low_risk,
}
MINUTES: Final[dict[str, Callable[[Events], Minutes]]] = {
    "minutes_to_first_temperature": _minutes_to_first,
    "longest_observation_gap": _longest_gap,
}
