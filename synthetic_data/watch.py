"""Sets of signs every half hour until a newborn has settled, where the watch was kept.

They stand beside the sets of ``observations`` and are drawn from a stream of their own. What
other measures read stays as it was: no set is added before a newborn's first, after a cold or a
warm reading until it was read again, or in the window after arrival until the first reading
there; every added temperature is in range, and every added count is read from a monitor.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import Unit
from synthetic_data.event_rows import joined, typed
from synthetic_data.scenario import Bools, Floats, Scenario, stream

SIGNS = ("temperature", "heart_rate", "respiratory_rate")
# As half_hourly_observation has them: what is in range, and how long until settled.
IN_RANGE = {"temperature": (36.5, 37.5), "heart_rate": (100, 160), "respiratory_rate": (30, 60)}
SETTLED_AFTER = 120
WATCHED_UNTIL = 360
_APART = 100_000.0  # minutes between one newborn and the next, far more than the watch


@dataclass(frozen=True)
class Course:
    """One newborn's sets in order of time: minute, temperature, whether all signs are in range."""

    minutes: Floats
    degrees: Floats
    calm: Bools


def _is_followed(rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario) -> Bools:
    """Whether the half hours were kept; at night and on busy days less often."""
    spec = scenario["watch"]
    slow = np.log(babies["slow"].to_numpy(dtype=float))
    share = np.clip(spec["followed"] - spec["per_slow"] * slow, 0.05, 0.98)
    return np.asarray(rng.random(len(babies)) < share)


def _courses(table: pd.DataFrame) -> dict[int, Course]:
    """Return each newborn's sets; a sign without a row of that set counts as in range.

    Rows stand in order of newborn and time.
    """
    rows = table[table["kind"].isin(SIGNS) & (table["minutes"] <= WATCHED_UNTIL)]
    kind, value = rows["kind"].astype(str), rows["value"].round(6)
    low, high = (kind.map({name: IN_RANGE[name][end] for name in SIGNS}) for end in (0, 1))
    # One number for newborn and minute: what is near in it is near in time, of one newborn.
    place = rows["newborn"].to_numpy() * _APART + rows["minutes"].to_numpy()
    odd = np.sort(place[((value < low) | (value > high)).to_numpy()])
    is_set = (kind == "temperature").to_numpy()
    if not is_set.any():
        return {}
    at = place[is_set]
    # The counts of a set stand up to three minutes after its temperature.
    calm = np.searchsorted(odd, at, "left") == np.searchsorted(odd, at + 3, "right")
    newborn, minutes = (rows[name].to_numpy()[is_set] for name in ("newborn", "minutes"))
    starts = np.flatnonzero(np.diff(newborn, prepend=-1))
    parts = (np.split(each, starts[1:]) for each in (minutes, value.to_numpy()[is_set], calm))
    own = zip(newborn[starts].tolist(), *parts, strict=True)
    return {of: Course(when, degrees, is_calm) for of, when, degrees, is_calm in own}


def _closed(course: Course, arrival: float) -> tuple[float, float]:
    """Return the stretch in which nothing is added: from arrival to the first reading there."""
    if np.isnan(arrival):
        return np.inf, -np.inf
    after = course.minutes[course.minutes >= arrival]
    return arrival, float(after[0]) if len(after) else arrival + 60


def _added(
    rng: np.random.Generator, course: Course, arrival: float, spec: Mapping[str, float]
) -> list[float]:
    """Walk from set to set; where the next is far, and nothing is amiss, put one between."""
    opens, closes = _closed(course, arrival)
    low, high = IN_RANGE["temperature"]
    step, spread = spec["step"], spec["step_sd"]
    added, since = [], None
    ends = [*course.minutes[1:], float(WATCHED_UNTIL)]
    for at, degrees, calm, until in zip(
        course.minutes, course.degrees, course.calm, ends, strict=True
    ):
        since = (at if since is None else since) if calm else None
        minute = at
        while low <= degrees <= high:
            # Python's own round and bounds: numpy's cost ten times as much for one number.
            minute += min(max(round(rng.normal(step, spread)), 18), 34)
            is_settled = since is not None and minute > since + SETTLED_AFTER + step
            if minute > until - spec["apart"] or is_settled:
                break
            since = minute if since is None else since
            if not opens <= minute <= closes:
                added.append(minute)
    return added


def _block(rng: np.random.Generator, newborn: np.ndarray, minutes: Floats) -> pd.DataFrame:
    """Return the rows of added sets: three signs each, in the contract's columns."""
    n, blocks = len(newborn), []
    drawn = {
        "temperature": np.clip(np.round(rng.normal(36.9, 0.16, n), 1), 36.5, 37.4),
        "heart_rate": np.clip(np.round(rng.normal(131, 11, n)), 101, 159),
        "respiratory_rate": np.clip(np.round(rng.normal(44, 6, n)), 31, 59),
    }
    for kind, value in drawn.items():
        at = minutes if kind == "temperature" else minutes + rng.integers(0, 4, n)
        said = {
            "kind": kind,
            "minutes": at,
            "charted_minutes": at + rng.integers(1, 9, n),
            "value": value,
            "site": {"temperature": "axillary", "heart_rate": "chest"}.get(kind),
            "method": None if kind == "temperature" else "device",
        }
        columns = read_contract()["observation"].columns
        block = {
            name: typed(column, said.get(name), n)
            for name, column in columns.items()
            if name != "record_id"
        }
        blocks.append(pd.DataFrame({"newborn": newborn.astype(np.int32), **block}))
    return joined(blocks)


def with_watch(
    table: pd.DataFrame, babies: pd.DataFrame, unit: Unit, scenario: Scenario, seed: int
) -> pd.DataFrame:
    """Return the observations with the sets of a kept watch added, in order of newborn and time."""
    rng, spec = stream(seed, unit.id, "watch"), scenario["watch"]
    followed = _is_followed(rng, babies, scenario)
    arrival, stay = babies["arrival_minutes"].to_numpy(), babies["stay"].to_numpy()
    found = [
        (newborn, minute)
        for newborn, course in _courses(table).items()
        if followed[newborn] and len(course.minutes)
        for minute in _added(rng, course, arrival[newborn], spec)
        if not minute + 4 > stay[newborn]
    ]
    if not found:
        return table
    newborn, minutes = (np.array(each) for each in zip(*found, strict=True))
    whole = joined([table, _block(rng, newborn, minutes.astype(float))])
    whole = whole[~whole.duplicated(["newborn", "kind", "site", "minutes"])]
    order = np.lexsort((whole["minutes"].to_numpy(), whole["newborn"].to_numpy()))
    return whole.iloc[order].reset_index(drop=True)
