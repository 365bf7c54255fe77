"""Skin contact and the first body temperature, which it warms."""

import numpy as np
import pandas as pd

from pipelines.definitions.read_units import Unit
from synthetic_data.chances import chance, delay, pick
from synthetic_data.newborns import gap
from synthetic_data.scenario import Scenario, effect, stream


def start_of_care(babies: pd.DataFrame) -> np.ndarray:
    """Minute from which this unit's staff chart: arrival for a newborn born elsewhere."""
    outside = np.isin(babies["birth_place"].to_numpy(), ["other_site", "before_arrival"])
    arrival = np.nan_to_num(babies["arrival_minutes"].to_numpy(), nan=0.0)
    return np.where(outside, arrival, 0.0)


def add_contact(babies: pd.DataFrame, unit: Unit, scenario: Scenario, seed: int) -> None:
    """Add hidden columns: contact begun, its start and end (minutes), or why not."""
    rng, n, care = stream(seed, unit.id, "contact"), len(babies), scenario["care"]
    theatre = babies["mode_of_birth"].str.startswith("caesarean").to_numpy()
    well = (babies["resuscitation"].to_numpy() == "none") & (
        babies["gestational_age_days"].to_numpy() >= 34 * 7
    )
    share = np.where(theatre, care["skin_contact_caesarean"], care["skin_contact_vaginal"])
    share = share * np.where(well, 1.0, 0.15)
    share = share * np.where(babies["anaesthesia"].to_numpy() == "general", 0.2, 1.0)
    share = np.where(babies["birth_place"].to_numpy() == "other_site", 0.3, share)
    held = chance(rng, share, n)
    date = babies["birth_time"].to_numpy().astype("M8[D]")
    times, _ = effect(scenario, unit, "skin_contact", date)
    times = times * babies["slow"].to_numpy()
    begin = np.where(
        theatre,
        delay(rng, scenario["delay"]["skin_contact_caesarean"], n, times),
        delay(rng, scenario["delay"]["skin_contact_vaginal"], n, times),
    )
    begin = begin + start_of_care(babies)
    length = np.maximum(5, delay(rng, scenario["delay"]["skin_contact_length"], n))
    babies["skin_contact"] = held
    babies["skin_start"] = np.where(held, begin, np.nan)
    babies["skin_end"] = np.where(
        gap(rng, babies, scenario["gaps"]["skin_contact_end"]), np.nan, begin + length
    )
    reason = pick(rng, care["skin_contact_reasons"], n)
    reason = np.where(~well, "newborn_unstable", reason).astype(object)
    reason[chance(rng, care["reason_missing"], n)] = None
    babies["skin_reason"] = reason


def add_first_temperature(babies: pd.DataFrame, unit: Unit, scenario: Scenario, seed: int) -> None:
    """Add hidden columns: the true first temperature (Celsius) and its minute."""
    rng, n, spec = stream(seed, unit.id, "first temperature"), len(babies), scenario["temperature"]
    date = babies["birth_time"].to_numpy().astype("M8[D]")
    place = babies["birth_place"].to_numpy()
    room = np.nan_to_num(babies["room_temperature_c"].to_numpy(), nan=spec["room_reference_c"])
    weeks = babies["gestational_age_days"].to_numpy() / 7
    theatre = babies["mode_of_birth"].str.startswith("caesarean").to_numpy()
    mother = babies["maternal_temperature_c"].to_numpy() - scenario["mother"]["temperature_c"]
    degrees = spec["base_c"] + spec["per_room_degree"] * (room - spec["room_reference_c"])
    degrees = degrees + spec["per_week_below_38"] * np.maximum(0, 38 - weeks)
    degrees = degrees + spec["per_weight_z"] * babies["weight_z"].to_numpy()
    degrees = degrees + spec["skin_contact_c"] * babies["skin_contact"].to_numpy()
    helped = babies["resuscitation"].to_numpy() != "none"
    degrees = degrees + spec["resuscitation_c"] * helped + spec["caesarean_c"] * theatre
    degrees = degrees + spec["before_arrival_c"] * (place == "before_arrival")
    degrees = degrees + spec["per_maternal_degree"] * mother
    times, add = effect(scenario, unit, "first_temperature_c", date)
    tail = rng.standard_t(spec["tail_degrees_of_freedom"], n)
    warmth = degrees * times + add + spec["sd_c"] * tail
    # Warmed towels help most those who would be cold.
    _, for_cold = effect(scenario, unit, "cold_first_temperature_c", date)
    babies["warmth"] = warmth + for_cold * (warmth < spec["cold_below_c"])
    faster, _ = effect(scenario, unit, "first_temperature", date)
    wait = delay(rng, scenario["delay"]["first_temperature"], n, faster * babies["slow"].to_numpy())
    babies["warmth_minutes"] = np.maximum(1, wait) + start_of_care(babies)
