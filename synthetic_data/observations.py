"""Readings: sets of temperature, heart rate and respirations, glucose, oxygen saturation."""

import numpy as np
import pandas as pd

from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import Unit
from synthetic_data.chances import chance, delay
from synthetic_data.contact import start_of_care
from synthetic_data.event_rows import Rows
from synthetic_data.newborns import gap
from synthetic_data.scenario import Bools, Floats, Scenario, stream
from synthetic_data.watch import with_watch

MOST_SETS = 6
FEWEST_SETS = 3


def _next_minutes(
    rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario, cold: Bools
) -> Floats:
    """Minutes to the next set: a cold reading is taken again sooner, mostly."""
    n, delays, slow = len(babies), scenario["delay"], babies["slow"].to_numpy()
    again = delay(rng, delays["recheck"], n, slow)
    forgotten = chance(rng, scenario["care"]["recheck_missed"], n)
    again = np.where(forgotten, delay(rng, delays["recheck_missed"], n, slow), again)
    usual = delay(rng, delays["next_set"], n, slow)
    return np.asarray(np.maximum(5, np.where(cold, again, usual)))


def _course(
    rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario
) -> tuple[list[Floats], list[Floats]]:
    """Return the minutes and temperatures (Celsius) of each set, one array per set."""
    spec, n = scenario["temperature"], len(babies)
    minutes, degrees = babies["warmth_minutes"].to_numpy(), babies["warmth"].to_numpy()
    times, readings = [minutes], [degrees]
    for _ in range(1, MOST_SETS):
        cold = degrees < spec["cold_below_c"]
        minutes = minutes + _next_minutes(rng, babies, scenario, cold)
        to = spec["settles_to_c"]
        degrees = to + spec["keeps"] * (degrees - to) + spec["reading_sd_c"] * rng.normal(size=n)
        times.append(minutes)
        readings.append(degrees)
    return times, readings


def _cooled(babies: pd.DataFrame, scenario: Scenario, minutes: Floats, degrees: Floats) -> Floats:
    """Cooling holds the newborn near its target from an hour after it began."""
    cooling = minutes > babies["cooling_minutes"].to_numpy() + 60
    return np.asarray(np.where(cooling, scenario["temperature"]["cooled_c"], degrees))


def _counts(rng: np.random.Generator, scenario: Scenario, n: int) -> tuple[np.ndarray, np.ndarray]:
    care = scenario["care"]
    draw = rng.random(n)
    full = draw < care["full_minute"]
    device = draw > 1 - care["device"]
    method = np.select([full, device], ["full_minute", "device"], "part_minute").astype(object)
    return method, method == "part_minute"


def _rate(rng: np.random.Generator, mean: float, sd: float, by_four: Bools, n: int) -> Floats:
    """A count; one taken over 15 seconds and multiplied is a multiple of four."""
    count = np.round(rng.normal(mean, sd, n))
    return np.asarray(np.where(by_four, np.round(count / 4) * 4, count))


def _add_set(
    rows: Rows,
    rng: np.random.Generator,
    babies: pd.DataFrame,
    scenario: Scenario,
    *,
    minutes: Floats,
    degrees: Floats,
    where: Bools,
) -> None:
    n = len(babies)
    charted = minutes + np.maximum(0, delay(rng, scenario["delay"]["charting"], n))
    charted = np.where(chance(rng, scenario["gaps"]["charting"], n), np.nan, charted)
    reading = np.round(_cooled(babies, scenario, minutes, degrees), 1)
    rows.add(
        where,
        kind="temperature",
        minutes=minutes,
        charted_minutes=charted,
        value=reading,
        site="axillary",
    )
    method, by_four = _counts(rng, scenario, n)
    has_rate = where & ~chance(rng, scenario["gaps"]["later_set"], n)
    rows.add(
        has_rate,
        kind="heart_rate",
        minutes=minutes + rng.integers(0, 4, n),
        charted_minutes=charted + 3,
        value=np.clip(_rate(rng, 140, 11, by_four, n), 85, 215),
        site="chest",
        method=method,
    )
    by_hand = np.where(method == "device", "full_minute", method)
    rows.add(
        has_rate,
        kind="respiratory_rate",
        minutes=minutes + rng.integers(0, 4, n),
        charted_minutes=charted + 3,
        value=np.clip(_rate(rng, 46, 7, by_four, n), 22, 96),
        method=by_hand,
    )


def _add_glucose(
    rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario
) -> None:
    """Bedside glucose, three checks: late preterm, small, large, and after maternal diabetes."""
    care, n = scenario["care"], len(babies)
    weeks, z = babies["gestational_age_days"].to_numpy() / 7, babies["weight_z"].to_numpy()
    at_risk = (weeks < 37) | (z < care["glucose_small_z"]) | (z > care["glucose_large_z"])
    at_risk |= babies["maternal_diabetes"].to_numpy()
    at_risk &= babies["live_birth"].to_numpy()
    minutes = delay(rng, scenario["delay"]["glucose"], n) + start_of_care(babies)
    for check in range(3):
        value = np.clip(
            np.round(rng.normal(care["glucose_mean"] + 3 * check, care["glucose_sd"], n)), 18, 160
        )
        where = at_risk & ~gap(rng, babies, scenario["gaps"]["later_set"])
        rows.add(where, kind="glucose", minutes=minutes, charted_minutes=minutes + 2, value=value)
        minutes = minutes + np.maximum(60, np.round(rng.normal(180, 30, n)))


def _add_saturation(
    rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario
) -> None:
    """Heart screen after 24 hours: right hand, then a foot."""
    n = len(babies)
    minutes = delay(rng, scenario["delay"]["heart_screen"], n)
    where = babies["live_birth"].to_numpy() & ~gap(rng, babies, 0.02)
    hand = np.clip(np.round(rng.normal(98.4, 1.0, n)), 92, 100)
    foot = np.clip(hand + np.round(rng.normal(0.1, 0.8, n)), 91, 100)
    rows.add(
        where,
        kind="oxygen_saturation",
        minutes=minutes,
        charted_minutes=minutes + 4,
        value=hand,
        site="right_hand",
    )
    rows.add(
        where,
        kind="oxygen_saturation",
        minutes=minutes + 2,
        charted_minutes=minutes + 4,
        value=foot,
        site="foot",
    )


def observations(babies: pd.DataFrame, unit: Unit, scenario: Scenario, seed: int) -> pd.DataFrame:
    """Return every reading of every newborn, in order of newborn and time."""
    rng, n = stream(seed, unit.id, "observations"), len(babies)
    rows, live = Rows(read_contract()["observation"]), babies["live_birth"].to_numpy()
    times, readings = _course(rng, babies, scenario)
    sets = rng.integers(FEWEST_SETS, MOST_SETS + 1, n)
    for place, (minutes, degrees) in enumerate(zip(times, readings, strict=True)):
        share = scenario["gaps"]["first_temperature" if place == 0 else "later_set"]
        where = live & (place < sets) & ~gap(rng, babies, share)
        _add_set(rows, rng, babies, scenario, minutes=minutes, degrees=degrees, where=where)
    _add_arrival_set(rows, rng, babies, scenario, times=times, readings=readings)
    _add_glucose(rows, rng, babies, scenario)
    _add_saturation(rows, rng, babies, scenario)
    table = rows.frame(babies["stay"].to_numpy())
    # The set on arrival may fall on the minute of another: a sign is read once a minute.
    again = table.duplicated(["newborn", "kind", "site", "minutes"])
    return with_watch(table[~again].reset_index(drop=True), babies, unit, scenario, seed)


def _add_arrival_set(
    rows: Rows,
    rng: np.random.Generator,
    babies: pd.DataFrame,
    scenario: Scenario,
    *,
    times: list[Floats],
    readings: list[Floats],
) -> None:
    """One set soon after arrival for those who moved between rooms of this site."""
    n, arrival = len(babies), babies["arrival_minutes"].to_numpy()
    inside = start_of_care(babies) == 0
    minutes: Floats = arrival + rng.integers(2, 20, n).astype(float)
    degrees = readings[0].copy()
    for at, reading in zip(times[1:], readings[1:], strict=True):
        degrees = np.where(at < minutes, reading, degrees)
    degrees = degrees + scenario["temperature"]["reading_sd_c"] * rng.normal(size=n)
    where = babies["live_birth"].to_numpy() & inside & ~np.isnan(arrival)
    where &= ~gap(rng, babies, scenario["gaps"]["later_set"])
    _add_set(rows, rng, babies, scenario, minutes=minutes, degrees=degrees, where=where)
