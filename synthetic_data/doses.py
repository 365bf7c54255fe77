"""Doses given, refused and held: eye antibiotic, vitamin K, hepatitis B vaccine and globulin."""

from statistics import NormalDist
from typing import Any

import numpy as np
import pandas as pd

from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import Unit
from synthetic_data.chances import chance, choose, delay, pick
from synthetic_data.contact import start_of_care
from synthetic_data.event_rows import Rows
from synthetic_data.newborns import gap
from synthetic_data.scenario import Bools, Floats, Scenario, stream


def _refused(
    rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario, kind: str
) -> Bools:
    """Families unwilling for one offer are likelier to be unwilling for the next."""
    own = scenario["doses"]["own_mind"]
    mind = np.sqrt(1 - own**2) * babies["willingness"].to_numpy()
    mind = mind + own * rng.normal(size=len(babies))
    return np.asarray(mind < NormalDist().inv_cdf(scenario["doses"]["refused"][kind]))


def _amounts(
    rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario, kind: str
) -> dict[str, Any]:
    """Route, site, amount and presentation of one kind, as charted when given."""
    doses, n = scenario["doses"], len(babies)
    wrong = chance(rng, doses["wrong_route"], n)
    thigh = np.where(rng.random(n) < 0.5, "left_thigh", "right_thigh").astype(object)
    if kind == "eye_antibiotic":
        eye = np.where(chance(rng, doses["one_eye"], n), "left_eye", "both_eyes").astype(object)
        route = np.where(wrong, "topical", "ophthalmic").astype(object)
        return {"route": route, "site": eye, "amount": np.ones(n), "amount_unit": "cm"}
    if kind == "vitamin_k":
        weight = babies["weight_g"].to_numpy()
        small = np.round(weight / 1000 * doses["small_mg_per_kg"], 1)
        amount = np.where(weight > doses["small_below_g"], doses["full_mg"], small)
        adult = chance(rng, doses["adult_strength"], n)
        return {
            "route": np.where(wrong, "intravenous", "intramuscular").astype(object),
            "site": thigh,
            "amount": amount,
            "amount_unit": "mg",
            "strength": np.where(adult, "adult", "newborn").astype(object),
        }
    route = np.where(wrong, "subcutaneous", "intramuscular").astype(object)
    return {
        "route": route,
        "site": thigh,
        "amount": np.full(n, 0.5),
        "amount_unit": "mL",
        "strength": "newborn",
    }


def _add_offer(
    rows: Rows,
    rng: np.random.Generator,
    babies: pd.DataFrame,
    scenario: Scenario,
    *,
    kind: str,
    minutes: Floats,
    also_held: Bools | None = None,
) -> dict[str, Any]:
    """One offer of one kind to every live newborn: given, refused or held, or not charted.

    Return route, site, amount and presentation, as charted when given.
    """
    n, doses = len(babies), scenario["doses"]
    charted = babies["live_birth"].to_numpy() & ~gap(rng, babies, scenario["gaps"][kind])
    refused = _refused(rng, babies, scenario, kind)
    held = ~refused & chance(rng, doses["held"][kind], n)
    reason = pick(rng, doses["held_reasons"], n)
    reason[chance(rng, scenario["care"]["reason_missing"], n)] = None
    if also_held is not None:
        reason[also_held & ~refused & ~held] = "later"
        held |= also_held & ~refused
    if kind == "vitamin_k":
        oral = ~refused & ~held & chance(rng, doses["oral_vitamin_k"], n)
        reason[oral] = "oral_chosen"
        held |= oral
    given = ~refused & ~held
    why = choose(chance(rng, doses["refused_reason_missing"], n), None, "declined")
    rows.add(charted & refused, kind=kind, minutes=minutes, status="refused", reason=why)
    rows.add(charted & held, kind=kind, minutes=minutes, status="held", reason=reason)
    lost = chance(rng, scenario["gaps"]["time_of_care"], n)
    at = np.where(lost, np.nan, minutes)
    facts = _amounts(rng, babies, scenario, kind)
    rows.add(charted & given, kind=kind, minutes=at, status="given", **facts)
    changed = charted & refused & chance(rng, doses["refused_then_given"], n)
    later = minutes + np.round(rng.uniform(60, 600, n))
    rows.add(changed, kind=kind, minutes=later, status="given", **facts)
    return facts


def _add_later_vaccine(
    rows: Rows,
    rng: np.random.Generator,
    babies: pd.DataFrame,
    scenario: Scenario,
    *,
    facts: dict[str, Any],
    small: Bools,
) -> None:
    """The vaccine of small newborns of negative mothers, before they go home or at one month."""
    n, doses = len(babies), scenario["doses"]
    given = small & babies["live_birth"].to_numpy() & chance(rng, doses["late_vaccine_given"], n)
    home = babies["discharge_minutes"].to_numpy()
    minutes = np.maximum(1, np.minimum(home - 90, doses["late_vaccine_at_most"]))
    rows.add(
        given & ~np.isnan(minutes),
        kind="hepatitis_b_vaccine",
        minutes=minutes,
        status="given",
        **facts,
    )


def doses(babies: pd.DataFrame, unit: Unit, scenario: Scenario, seed: int) -> pd.DataFrame:
    """Return every dose row of every newborn, in order of newborn and time."""
    rng, n, delays = stream(seed, unit.id, "doses"), len(babies), scenario["delay"]
    rows, slow, begin = (
        Rows(read_contract()["dose"]),
        babies["slow"].to_numpy(),
        start_of_care(babies),
    )
    for kind in ("eye_antibiotic", "vitamin_k"):
        minutes = begin + np.maximum(2, delay(rng, delays[kind], n, slow))
        _add_offer(rows, rng, babies, scenario, kind=kind, minutes=minutes)
    exposed = babies["maternal_hepatitis_b"].to_numpy() != "negative"
    known = np.nan_to_num(babies["maternal_hepatitis_b_minutes"].to_numpy(), nan=0.0)
    exposed |= known > 0
    quick = delay(rng, delays["hepatitis_b_exposed"], n, slow)
    usual = delay(rng, delays["hepatitis_b_vaccine"], n, slow)
    minutes = begin + np.maximum(10, np.where(exposed, quick, usual))
    small = babies["weight_g"].to_numpy() < scenario["doses"]["late_vaccine_below_g"]
    vaccine = _add_offer(
        rows,
        rng,
        babies,
        scenario,
        kind="hepatitis_b_vaccine",
        minutes=minutes,
        also_held=small & ~exposed,
    )
    positive = babies["maternal_hepatitis_b"].to_numpy() == "positive"
    globulin = babies["live_birth"].to_numpy() & (positive | (exposed & small))
    other = np.where(vaccine["site"] == "left_thigh", "right_thigh", "left_thigh").astype(object)
    facts = _amounts(rng, babies, scenario, "hepatitis_b_immune_globulin")
    facts |= {"strength": None, "site": other}
    _add_later_vaccine(rows, rng, babies, scenario, facts=vaccine, small=small & ~exposed)
    rows.add(
        globulin & ~chance(rng, 0.02, n),
        kind="hepatitis_b_immune_globulin",
        minutes=minutes + rng.integers(0, 6, n),
        status="given",
        **facts,
    )
    return rows.frame(babies["stay"].to_numpy())
