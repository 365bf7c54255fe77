"""What is true of each newborn, measure by measure: sets of signs, glucose, minutes.

As ``true_events``: from the prose of the measures' headers and the generator's true tables.
"""

from collections.abc import Callable
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


def _glucose_check(events: Events) -> Known:
    longer, shorter = _risk(events)
    until = pd.Series(np.where(longer, DAY, 720.0), events.babies.index)
    rows = events._of("observation", ["glucose"]).sort_values("minutes")
    in_time = events.first(rows) <= 90
    rows = rows[rows["minutes"] <= until.to_numpy()[rows["newborn"]]]
    third = events.first(rows[rows.groupby("newborn").cumcount() == 2])
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


def _sets(events: Events, until: float) -> pd.DataFrame:
    """Return the complete sets in order: newborn, minutes (of the last sign), calm: bool."""
    rows = events._of("observation", RANGES)
    rows = rows[(rows["minutes"] <= until) & rows["value"].notna()]
    kind = rows["kind"].astype(str)
    low, high = (kind.map({name: one[end] for name, one in RANGES.items()}) for end in (0, 1))
    calm = rows["value"].round(6).between(low, high).astype(float)
    # One row per minute; two readings of one sign in it are calm where both are.
    each = calm.groupby([rows["newborn"], rows["minutes"], kind]).min().unstack()
    minutes = pd.Series(each.index.get_level_values("minutes"), each.index, dtype=float)
    last = each.groupby(level="newborn").ffill()
    read = each.notna().mul(minutes, axis=0).where(each.notna()).groupby(level="newborn").ffill()
    is_set = read.notna().all(axis=1) & (minutes - read.min(axis=1) <= 10)
    sets = pd.DataFrame({"minutes": minutes, "calm": last.eq(1).all(axis=1)})[is_set]
    return sets.reset_index(level="newborn").reset_index(drop=True)


def _settled(sets: pd.DataFrame) -> pd.Series:
    """Return by newborn the first set that ends two hours of sets in range."""
    run = (~sets["calm"]).astype(int).groupby(sets["newborn"]).cumsum()
    calm = sets[sets["calm"]]
    began = calm.groupby([calm["newborn"], run[sets["calm"]]])["minutes"].transform("min")
    return calm[calm["minutes"] - began >= 120].groupby("newborn")["minutes"].min()


def _longest(sets: pd.DataFrame, ends: pd.Series) -> pd.Series:
    """Return the longest time without a set from birth to an end that is no set."""
    edges = pd.DataFrame({"newborn": ends.index, "minutes": ends.to_numpy()})
    every = pd.concat([edges.assign(minutes=0.0), sets[["newborn", "minutes"]], edges])
    every = every.sort_values(["newborn", "minutes"])
    gaps = every.groupby("newborn")["minutes"].diff()
    return gaps.groupby(every["newborn"]).max().reindex(ends.index)


def _away(events: Events) -> pd.Series:
    return pd.concat([events.moved, events.home], axis=1).min(axis=1).fillna(np.inf)


def _half_hourly(events: Events) -> Known:
    away, sets = _away(events), _sets(events, 360)
    settled = _settled(sets).reindex(away.index)
    ends = pd.concat([away, settled], axis=1).min(axis=1).clip(upper=360.0)
    seen = sets[sets["minutes"] < ends.to_numpy()[sets["newborn"]]]
    met = _longest(seen, ends) <= 35
    who = events.owned() & ~(away < 120)
    return events.known(events.judged(who, met, ends, ends, is_for_warm=True), met)


def _longest_gap(events: Events) -> Minutes:
    away, sets = _away(events), _sets(events, 240)
    ends = away.clip(upper=240.0)
    sets = sets[sets["minutes"] <= ends.to_numpy()[sets["newborn"]]]
    longest = _longest(sets, ends).where(events.has(sets))
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
