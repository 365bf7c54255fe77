"""Pregnancies and the moment of each birth, on UTC instants and on the unit's own clock."""

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipelines.definitions.read_units import Unit
from synthetic_data.chances import Objects, chance, pick
from synthetic_data.scenario import Bools, Scenario, stream

Months = npt.NDArray[np.datetime64]
SATURDAY = 5  # pandas weekday of Saturday; Monday is 0
NO_ZONE = "UTC"  # an export in minutes carries no clock, so any zone will do


def _mode(rng: np.random.Generator, scenario: Scenario, days: Objects, twin: Bools) -> Objects:
    n = len(days)
    mode = np.where(
        twin,
        pick(rng, scenario["mode"]["twin"], n),
        np.where(
            days < 37 * 7,
            pick(rng, scenario["mode"]["preterm"], n),
            pick(rng, scenario["mode"]["term"], n),
        ),
    )
    return np.asarray(mode, dtype=object)


def _by_mode(
    rng: np.random.Generator, shares: Mapping[str, Mapping[str, float]], mode: Objects
) -> Objects:
    drawn = np.empty(len(mode), dtype=object)
    for name, share in shares.items():
        here = mode == name
        drawn[here] = pick(rng, share, int(here.sum()))
    return drawn


def _place(rng: np.random.Generator, scenario: Scenario, mode: Objects) -> Objects:
    n = len(mode)
    theatre = np.char.startswith(mode.astype(str), "caesarean")
    place = np.where(theatre, "operating_room", "birth_room").astype(object)
    on_the_way = chance(rng, scenario["place"]["before_arrival"], n) & (mode == "vaginal")
    place[on_the_way] = "before_arrival"
    place[chance(rng, scenario["place"]["other_site"], n)] = "other_site"
    return np.asarray(place, dtype=object)


def _gestation(rng: np.random.Generator, scenario: Scenario, twin: Bools) -> Objects:
    n = len(twin)
    weeks = np.where(
        twin,
        pick(rng, scenario["gestation"]["twin"], n),
        pick(rng, scenario["gestation"]["single"], n),
    ).astype(int)
    return np.asarray(weeks * 7 + rng.integers(0, 7, n))


def _local_times(
    rng: np.random.Generator, scenario: Scenario, month: Months, planned: Bools
) -> npt.NDArray[np.datetime64]:
    """Draw wall-clock minutes; planned caesareans fall on weekdays in working hours."""
    n = len(month)
    days_in_month = ((month + 1).astype("M8[D]") - month.astype("M8[D]")).astype(int)
    day = month.astype("M8[D]") + (rng.random(n) * days_in_month).astype(int)
    weekday = (day.astype(int) + 3) % 7  # 1970-01-01 was a Thursday
    back = np.where(planned & (weekday >= SATURDAY), weekday - SATURDAY + 1, 0)
    moved = day - back
    moved = np.where(moved.astype("M8[M]") < month, moved + 7, moved)
    weights = {str(hour): w for hour, w in enumerate(scenario["births"]["hour_weights"])}
    any_hour = pick(rng, weights, n).astype(int)
    hour = np.where(planned, rng.choice(scenario["births"]["planned_hours"], n), any_hour)
    minute = hour * 60 + rng.integers(0, 60, n)
    return np.asarray(moved.astype("M8[m]") + minute)


def _instants(
    rng: np.random.Generator, local: npt.NDArray[np.datetime64], zone: str
) -> npt.NDArray[np.datetime64]:
    """Put wall-clock times on UTC; an hour the clock shows twice is either one."""
    index = pd.DatetimeIndex(local).tz_localize(
        zone, ambiguous=rng.random(len(local)) < 0.5, nonexistent="shift_forward"
    )
    return index.tz_convert("UTC").tz_localize(None).to_numpy().astype("M8[s]")


def local_clock(instants: npt.NDArray[np.datetime64], zone: str | None) -> pd.DatetimeIndex:
    """Return the naive wall-clock times of UTC instants."""
    index = pd.DatetimeIndex(instants).tz_localize("UTC")
    return index.tz_convert(zone or NO_ZONE).tz_localize(None)


def _months(
    rng: np.random.Generator, scenario: Scenario, start: str, n_months: int, births: float
) -> Months:
    """One entry per pregnancy: its month of birth."""
    months = np.datetime64(start, "M") + np.arange(n_months)
    month_of_year = months.astype(int) % 12
    wave = 1 + scenario["births"]["season_amplitude"] * np.cos(2 * np.pi * (month_of_year - 7) / 12)
    pregnancies = births / (1 + scenario["births"]["twin_pregnancies"])
    return np.repeat(months, rng.poisson(pregnancies * wave))


def draw_births(
    unit: Unit,
    scenario: Scenario,
    *,
    start: str,
    n_months: int,
    births_per_month: float,
    seed: int,
) -> pd.DataFrame:
    """Return one row per newborn in order of birth.

    ``birth_at`` is the UTC instant, ``birth_time`` the unit's naive wall clock, both to the
    minute; ``pregnancy`` numbers the pregnancies, which twins share.
    """
    rng = stream(seed, unit.id, "births")
    month = _months(rng, scenario, start, n_months, births_per_month)
    n = len(month)
    twin = chance(rng, scenario["births"]["twin_pregnancies"], n)
    days = _gestation(rng, scenario, twin)
    mode = _mode(rng, scenario, days, twin)
    place = _place(rng, scenario, mode)
    anaesthesia = _by_mode(rng, scenario["anaesthesia"], mode)
    anaesthesia[place == "before_arrival"] = "none"
    local = _local_times(rng, scenario, month, mode == "caesarean_planned")
    frame = pd.DataFrame(
        {
            "pregnancy": np.arange(n),
            "birth_at": _instants(rng, local, unit.zone or NO_ZONE),
            "plurality": np.where(twin, 2, 1),
            "gestational_age_days": days.astype(int),
            "mode_of_birth": mode,
            "birth_place": place,
            "anaesthesia": anaesthesia,
            "willingness": rng.normal(size=n),
        }
    )
    return _with_twins(rng, frame, unit.zone)


def _with_twins(rng: np.random.Generator, frame: pd.DataFrame, zone: str | None) -> pd.DataFrame:
    """Give each twin pregnancy its second newborn, born some minutes later."""
    born = frame.loc[frame.index.repeat(frame["plurality"])].reset_index(drop=True)
    second = born["pregnancy"].duplicated().to_numpy()
    by_caesarean = born["mode_of_birth"].str.startswith("caesarean").to_numpy()
    lag = np.where(by_caesarean, rng.integers(1, 4, len(born)), rng.integers(4, 35, len(born)))
    later = np.where(second, lag, 0).astype("m8[m]")
    born["birth_at"] = born["birth_at"].to_numpy() + later
    born = born.sort_values("birth_at", kind="stable").reset_index(drop=True)
    clock = local_clock(born["birth_at"].to_numpy(), zone)
    born["birth_time"] = clock
    born["birth_weekday"] = clock.day_of_week + 1
    born["birth_hour"] = clock.hour
    born["birth_month"] = clock.to_numpy().astype("M8[M]").astype("M8[s]")
    born["birth_order"] = np.arange(1, len(born) + 1)
    return born
