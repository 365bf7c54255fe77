"""The newborns of a unit: one row each with every admission column and its hidden causes.

Hidden columns (not in the contract) feed the events: ``slow`` (factor on delays), ``gap``
(logit added to documentation gaps), ``weight_z``, ``skin_contact``, ``first_temperature``,
``willingness``.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from pipelines.definitions.read_units import Unit
from synthetic_data.chances import blank, chance, delay, expit, logit, pick
from synthetic_data.scenario import Bools, Floats, Scenario, effect, stream
from synthetic_data.sizes import SIZE_COLUMNS, correlated_z, size_at

# AAP/ACOG 2015: scored again every 5 minutes while the last total is below 7, until 20 minutes.
LATER_SCORES = ("apgar_10", "apgar_15", "apgar_20")


def gap(rng: np.random.Generator, babies: pd.DataFrame, share: float) -> Bools:
    """Draw whom an item is not documented for; nights and busy days widen the gap."""
    return chance(rng, expit(logit(share) + babies["gap"].to_numpy()), len(babies))


def add_strain(babies: pd.DataFrame, scenario: Scenario) -> None:
    """Add ``slow`` and ``gap``: night, weekend and how many were born that day."""
    strain = scenario["strain"]
    hour = babies["birth_hour"].to_numpy()
    night = (hour >= strain["night_from_hour"]) | (hour < strain["night_to_hour"])
    weekend = babies["birth_weekday"].to_numpy() >= 6
    day = babies["birth_time"].to_numpy().astype("M8[D]")
    _, place, counts = np.unique(day, return_inverse=True, return_counts=True)
    load = counts[place] - counts.mean()
    # A big unit has more staff: the strain of one extra birth is relative to its usual day.
    load = load / np.sqrt(counts.mean()) * 3
    babies["night"] = night
    babies["slow"] = (
        np.where(night, strain["night_delay"], 1.0)
        * np.where(weekend, strain["weekend_delay"], 1.0)
        * np.exp(strain["per_extra_birth_delay"] * load)
    )
    babies["gap"] = strain["night_gap"] * night + strain["per_extra_birth_gap"] * load


def add_keys(babies: pd.DataFrame, unit: Unit, rng: np.random.Generator) -> None:
    """Add study keys; their order says nothing about the order of birth."""
    n = len(babies)
    prefix = "".join(word[0] for word in unit.id.split("_")).upper() + unit.id[-1].upper()
    digits = pd.Series(rng.permutation(n) + 1).astype(str).str.zfill(max(5, len(str(n)) + 1))
    babies["record_id"] = prefix + digits


def add_vigour(babies: pd.DataFrame, scenario: Scenario, rng: np.random.Generator) -> None:
    """Add resuscitation and Apgar totals that agree with it."""
    n, spec, score = len(babies), scenario["resuscitation"], scenario["apgar"]
    weeks = babies["gestational_age_days"].to_numpy() / 7
    mode = babies["mode_of_birth"].to_numpy()
    risk = spec["base"] + spec["per_week_below_37"] * np.maximum(0, 37 - weeks)
    risk = risk + spec["assisted_vaginal"] * (mode == "assisted_vaginal")
    risk = risk + spec["caesarean_unplanned"] * (mode == "caesarean_unplanned")
    risk = risk + spec["general"] * (babies["anaesthesia"].to_numpy() == "general")
    helped = chance(rng, expit(risk), n)
    worst = helped & chance(rng, spec["compressions_among_ventilated"], n)
    babies["resuscitation"] = np.select([worst, helped], ["compressions", "ventilation"], "none")
    fall = score["ventilation"] * helped + (score["compressions"] - score["ventilation"]) * worst
    fall = fall + score["per_week_below_34"] * np.maximum(0, 34 - weeks)
    one = np.clip(np.round(score["mean_1"] - fall + score["sd_1"] * rng.normal(size=n)), 0, 10)
    five = _later_score(rng, score, one)
    babies["apgar_1"], babies["apgar_5"] = one, five
    last = five
    for column in LATER_SCORES:
        last = np.where(last < 7, _later_score(rng, score, last), np.nan)
        babies[column] = last
    dead = ~babies["live_birth"].to_numpy()
    babies.loc[dead, ["apgar_1", "apgar_5"]] = 0.0
    babies.loc[dead, list(LATER_SCORES)] = np.nan


def _later_score(rng: np.random.Generator, score: Mapping[str, Any], before: Floats) -> Floats:
    gain = score["gain_per_missing_point"] * (10 - before) + 0.45 * rng.normal(size=len(before))
    return np.asarray(np.clip(np.round(before + gain), 0, 10))


def add_sizes(babies: pd.DataFrame, scenario: Scenario, rng: np.random.Generator) -> None:
    """Add weight (g), length and head circumference (cm), as a scale and a tape read them."""
    n, size = len(babies), scenario["size"]
    z = correlated_z(rng, scenario, n)
    z = z + size["twin_shift_z"] * (babies["plurality"].to_numpy() > 1)[:, None]
    male = babies["sex"].to_numpy() == "male"
    male = np.where(babies["sex"].to_numpy() == "unknown", rng.random(n) < 0.5, male)
    days = babies["gestational_age_days"].to_numpy().astype(float)
    steps = (size["round_weight_g"], size["round_length_cm"], size["round_head_cm"])
    for place, (column, step) in enumerate(zip(SIZE_COLUMNS, steps, strict=True)):
        exact = size_at(column, days, male, z[:, place])
        babies[column] = np.round(np.round(exact / step) * step, 2)
    babies["weight_z"] = z[:, 0]


def add_mother(babies: pd.DataFrame, scenario: Scenario, rng: np.random.Generator) -> None:
    """Add what twins share: temperature, hepatitis B status and the strata."""
    number = babies["pregnancy"].to_numpy()
    n, mother = int(number.max()) + 1, scenario["mother"]
    fever = chance(rng, mother["fever"], n)
    degrees = np.where(fever, mother["fever_c"], mother["temperature_c"])
    degrees = degrees + mother["sd_c"] * rng.normal(size=n)
    babies["maternal_temperature_c"] = np.round(degrees, 1)[number]
    status, minutes = _hepatitis_b(rng, scenario, n)
    babies["maternal_hepatitis_b"] = status[number]
    babies["maternal_hepatitis_b_minutes"] = minutes[number]
    for name, shares in scenario["strata"].items():
        value = pick(rng, shares, n)
        value[chance(rng, scenario["births"]["missing_stratifier"], n)] = None
        babies[name] = value[number]
    babies["maternal_diabetes"] = chance(rng, mother["diabetes"], n)[number]


def _hepatitis_b(rng: np.random.Generator, scenario: Scenario, n: int) -> tuple[np.ndarray, Floats]:
    """Status as the chart last shows it, and when it became known (nan: before birth)."""
    mother = scenario["mother"]
    positive = chance(rng, mother["hepatitis_b_positive"], n)
    unknown = chance(rng, mother["hepatitis_b_unknown"], n)
    settled = unknown & chance(rng, mother["unknown_settled_later"], n)
    status = np.where(positive, "positive", "negative").astype(object)
    status[unknown & ~settled] = "unknown"
    after = delay(rng, scenario["delay"]["status_known"], n)
    before = -np.round(rng.uniform(1, 180, n) * 1440)
    minutes = np.where(chance(rng, mother["known_with_time"], n) & ~unknown, before, np.nan)
    return status, np.where(settled, after, minutes)


def add_room(
    babies: pd.DataFrame, scenario: Scenario, unit: Unit, rng: np.random.Generator
) -> None:
    """Add the air temperature of the room of birth; outside the site nobody read it."""
    n, room = len(babies), scenario["room"]
    place = babies["birth_place"].to_numpy()
    date = babies["birth_time"].to_numpy().astype("M8[D]")
    month = babies["birth_time"].dt.month.to_numpy()
    degrees = np.where(place == "operating_room", room["operating_room_c"], room["birth_room_c"])
    degrees = degrees + room["summer_c"] * np.cos(2 * np.pi * (month - 7) / 12)
    degrees = degrees + room["night_c"] * babies["night"].to_numpy()
    times, add = effect(scenario, unit, "room_temperature_c", date)
    degrees = degrees * times + add + room["sd_c"] * rng.normal(size=n)
    inside = np.isin(place, ["birth_room", "operating_room"])
    babies["room_temperature_c"] = np.where(inside, np.round(degrees, 1), np.nan)


def add_course(babies: pd.DataFrame, scenario: Scenario, rng: np.random.Generator) -> None:
    """Add transfer, death, comfort care and cooling (minutes after birth, nan where not)."""
    n, spec, delays = len(babies), scenario["course"], scenario["delay"]
    live = babies["live_birth"].to_numpy()
    days = babies["gestational_age_days"].to_numpy()
    helped = babies["resuscitation"].to_numpy()
    dying = np.where(days < 26 * 7, spec["died_below_26"], spec["died_base"])
    dying = np.where(helped == "compressions", spec["died_compressions"], dying)
    died = live & chance(rng, dying, n)
    moving = np.where(days < 34 * 7, spec["transfer_below_34"], spec["transfer_base"])
    moving = np.where((helped != "none") & (days >= 34 * 7), spec["transfer_ventilated"], moving)
    low_score = babies["apgar_5"].to_numpy() <= spec["cooling_apgar_5_up_to"]
    cooled = live & ~died & (days >= 36 * 7) & low_score & chance(rng, spec["cooling_share"], n)
    moved = live & ~died & (chance(rng, moving, n) | (cooled & chance(rng, 0.7, n)))
    dies_at = np.maximum(5, delay(rng, delays["died"], n))
    babies["died_minutes"] = np.where(died, dies_at, np.nan)
    babies["transfer_minutes"] = np.where(
        moved, np.maximum(20, delay(rng, delays["transfer"], n)), np.nan
    )
    comfort = died & chance(rng, spec["comfort_below_24w_or_dying"], n)
    babies["comfort_care_minutes"] = np.where(
        comfort, np.round(dies_at * rng.uniform(0, 0.6, n)), np.nan
    )
    babies["cooling_minutes"] = np.where(cooled, rng.integers(25, 300, n), np.nan)


def add_moves(babies: pd.DataFrame, scenario: Scenario, rng: np.random.Generator) -> None:
    """Add arrival, leaving the birth room, discharge and where to."""
    n, delays, care = len(babies), scenario["delay"], scenario["care"]
    place = babies["birth_place"].to_numpy()
    theatre = place == "operating_room"
    unstable = babies["resuscitation"].to_numpy() != "none"
    leave = np.where(
        theatre, delay(rng, delays["leave_caesarean"], n), delay(rng, delays["leave_vaginal"], n)
    )
    leave = np.maximum(3, np.where(unstable, delay(rng, delays["leave_unstable"], n), leave))
    moves = (
        chance(rng, np.where(theatre, care["moves_caesarean"], care["moves_vaginal"]), n) | unstable
    )
    arrival = np.where(moves, leave + np.maximum(1, delay(rng, delays["transport"], n)), np.nan)
    arrival = np.where(
        place == "other_site", np.maximum(40, delay(rng, delays["other_site"], n)), arrival
    )
    arrival = np.where(
        place == "before_arrival", np.maximum(5, delay(rng, delays["before_arrival"], n)), arrival
    )
    outside = np.isin(place, ["other_site", "before_arrival"])
    babies["arrival_minutes"] = arrival
    babies["leave_birth_room_minutes"] = np.where(outside, np.nan, leave)
    _add_end(babies, scenario, rng)
    beyond = babies["stay"].to_numpy() < np.nan_to_num(leave, nan=0.0)
    babies.loc[beyond, ["leave_birth_room_minutes", "arrival_minutes"]] = np.nan


def _add_end(babies: pd.DataFrame, scenario: Scenario, rng: np.random.Generator) -> None:
    """Add ``discharge_minutes``, ``disposition`` and ``stay`` (nothing is charted after it)."""
    n, delays = len(babies), scenario["delay"]
    theatre = babies["birth_place"].to_numpy() == "operating_room"
    home = np.where(
        theatre, delay(rng, delays["home_caesarean"], n), delay(rng, delays["home_vaginal"], n)
    )
    arrival = np.nan_to_num(babies["arrival_minutes"].to_numpy(), nan=0.0)
    moved = np.maximum(babies["transfer_minutes"].to_numpy(), arrival + 15)
    babies["transfer_minutes"] = moved
    died = np.maximum(babies["died_minutes"].to_numpy(), np.where(arrival > 0, arrival + 5, 0))
    babies["died_minutes"] = died
    end = np.where(~np.isnan(died), died, np.where(~np.isnan(moved), moved, home))
    to = np.select([~np.isnan(died), ~np.isnan(moved)], ["died", "transfer"], "home").astype(object)
    last = babies["birth_at"].to_numpy().max()
    until_export = (last - babies["birth_at"].to_numpy()) / np.timedelta64(1, "m") + 720
    here = end > until_export
    live = babies["live_birth"].to_numpy()
    to[here] = "in_unit"
    to[~live] = None
    babies["disposition"] = to
    babies["stay"] = np.where(here, until_export, end)
    babies["discharge_minutes"] = np.where(here | ~live, np.nan, end)


def add_admission_gaps(babies: pd.DataFrame, scenario: Scenario, rng: np.random.Generator) -> None:
    """Blank admission cells that nobody filled in; a stillborn's chart is sparse."""
    size_time = np.maximum(
        8, delay(rng, scenario["delay"]["size"], len(babies), babies["slow"].to_numpy())
    )
    arrival = np.nan_to_num(babies["arrival_minutes"].to_numpy(), nan=0.0)
    outside = np.isin(babies["birth_place"].to_numpy(), ["other_site", "before_arrival"])
    size_time = np.where(outside, arrival + np.round(size_time / 2), size_time)
    too_late = (size_time > babies["stay"].to_numpy()) | ~babies["live_birth"].to_numpy()
    babies["size_minutes"] = blank(size_time, too_late)
    columns = [name for name in scenario["gaps"] if name in babies.columns]
    for column in columns:
        missing = gap(rng, babies, scenario["gaps"][column])
        values = babies[column]
        # A plain yes or no has no third state: masked, it would be text that no unit writes.
        babies[column] = (values.astype("boolean") if values.dtype == bool else values).mask(
            missing
        )
    late = ["maternal_temperature_c", "leave_birth_room_minutes", "arrival_minutes"]
    babies.loc[~babies["live_birth"].to_numpy(), late] = np.nan
    unattended = babies["birth_place"].to_numpy() == "before_arrival"
    scores = ["apgar_1", "apgar_5", *LATER_SCORES]
    babies.loc[unattended & (rng.random(len(babies)) < 0.7), scores] = np.nan


def add_newborns(babies: pd.DataFrame, unit: Unit, scenario: Scenario, seed: int) -> None:
    """Add every admission column and hidden cause to the births, in place."""

    def rng(name: str) -> np.random.Generator:
        return stream(seed, unit.id, name)

    n = len(babies)
    add_keys(babies, unit, rng("keys"))
    add_strain(babies, scenario)
    babies["live_birth"] = ~chance(rng("live"), scenario["births"]["stillborn"], n)
    babies["sex"] = pick(rng("sex"), scenario["sex"], n)
    add_vigour(babies, scenario, rng("vigour"))
    add_sizes(babies, scenario, rng("sizes"))
    add_mother(babies, scenario, rng("mother"))
    add_room(babies, scenario, unit, rng("room"))
    add_course(babies, scenario, rng("course"))
    add_moves(babies, scenario, rng("moves"))
