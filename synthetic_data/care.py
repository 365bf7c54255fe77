"""Care items and events, and the findings of the nurse's examination."""

import numpy as np
import pandas as pd

from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import Unit
from synthetic_data.chances import chance, choose, delay, pick
from synthetic_data.contact import start_of_care
from synthetic_data.event_rows import Rows
from synthetic_data.newborns import gap
from synthetic_data.scenario import Bools, Scenario, stream


def _at_birth(
    rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario, here: Bools
) -> None:
    """Drying, head cover, bag, warmer, cord: charted only where this site's staff were there."""
    n, care, delays = len(babies), scenario["care"], scenario["delay"]
    preterm = babies["gestational_age_days"].to_numpy() < care["bag_below_week"] * 7
    helped = babies["resuscitation"].to_numpy() != "none"
    bagged = here & preterm & chance(rng, 0.9, n)
    dried = here & ~bagged & chance(rng, care["dry_share"], n)
    covered = here & chance(rng, care["head_cover_share"], n)
    warmed = here & (helped | preterm | chance(rng, care["warmer_share"], n))
    done = {"drying": dried, "plastic_bag": bagged, "head_cover": covered, "warmer": warmed}
    for kind, where in done.items():
        spec = delays["drying" if kind == "plastic_bag" else kind]
        missing = gap(rng, babies, scenario["gaps"].get(kind, 0.02))
        rows.add(where & ~missing, kind=kind, minutes=delay(rng, spec, n), status="done")
    seconds = np.clip(delay(rng, care["cord_seconds"], n, np.where(helped, 0.3, 1.0)), 3, 600)
    clamped = here & ~gap(rng, babies, scenario["gaps"]["cord_clamp"])
    cut = chance(rng, care["cord_interrupted"], n)
    rows.add(
        clamped,
        kind="cord_clamp",
        minutes=np.floor(seconds / 60),
        status="done",
        quantity=seconds,
        reason=choose(cut & (seconds < 60), "cord_interrupted", None),
    )


def _identity(
    rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario
) -> None:
    """Two bands before leaving the room of birth, mostly, and the check with the mother."""
    n, delays = len(babies), scenario["delay"]
    live = babies["live_birth"].to_numpy()
    at = start_of_care(babies) + np.maximum(
        1, delay(rng, delays["two_bands"], n, babies["slow"].to_numpy())
    )
    charted = live & ~gap(rng, babies, scenario["gaps"]["two_bands"])
    not_done = chance(rng, scenario["care"]["band_not_done"], n)
    helped = babies["resuscitation"].to_numpy() != "none"
    why = choose(helped, "emergency_move", None)
    rows.add(charted & not_done, kind="two_bands", status="not_done", reason=why)
    rows.add(charted & ~not_done, kind="two_bands", minutes=at, status="done")
    checked = charted & ~not_done & ~gap(rng, babies, scenario["gaps"]["band_check"])
    later = at + np.maximum(0, delay(rng, delays["band_check"], n))
    rows.add(checked, kind="band_check", minutes=later, status="done")


def _skin_contact(
    rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario
) -> None:
    charted = babies["live_birth"].to_numpy() & ~gap(rng, babies, scenario["gaps"]["skin_contact"])
    held = babies["skin_contact"].to_numpy()
    ends = np.minimum(babies["skin_end"].to_numpy(), babies["stay"].to_numpy())
    rows.add(
        charted & held,
        kind="skin_contact",
        status="done",
        minutes=babies["skin_start"].to_numpy(),
        end_minutes=ends,
    )
    rows.add(
        charted & ~held,
        kind="skin_contact",
        status="not_done",
        reason=babies["skin_reason"].to_numpy(),
    )


def _first_day(
    rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario
) -> None:
    """First feed, stool, void, bath and the provider's examination."""
    n, slow = len(babies), babies["slow"].to_numpy()
    live = babies["live_birth"].to_numpy()
    unable = (babies["gestational_age_days"].to_numpy() < 34 * 7) | (
        babies["resuscitation"].to_numpy() == "compressions"
    )
    for kind in ("first_feed", "first_stool", "first_void", "bath", "examination"):
        times = slow if kind in {"first_feed", "bath", "examination"} else 1.0
        minutes = np.maximum(2, delay(rng, scenario["delay"][kind], n, times))
        if kind in {"first_feed", "examination"}:
            minutes = minutes + start_of_care(babies)
        where = live & ~gap(rng, babies, scenario["gaps"][kind])
        where &= ~unable if kind in {"first_feed", "bath"} else True
        lost = chance(rng, scenario["gaps"]["time_of_care"], n)
        rows.add(where, kind=kind, minutes=np.where(lost, np.nan, minutes), status="done")
        babies[kind] = np.where(where & ~lost, minutes, np.nan)


def _offers(rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario) -> None:
    """The talk about the hepatitis B vaccine, and heart screens that were not done."""
    n, live = len(babies), babies["live_birth"].to_numpy()
    talked = start_of_care(babies) + np.maximum(
        5, delay(rng, scenario["delay"]["hepatitis_b_exposed"], n, babies["slow"].to_numpy())
    )
    charted = live & ~gap(rng, babies, scenario["gaps"]["hepatitis_b_decision"])
    rows.add(charted, kind="hepatitis_b_decision", minutes=talked, status="done")
    left = live
    for reason, share in scenario["care"]["heart_screen_not_done"].items():
        not_done = left & chance(rng, share, n)
        left = left & ~not_done
        rows.add(not_done, kind="heart_screen", status="not_done", reason=reason)


def _course(rows: Rows, babies: pd.DataFrame) -> None:
    for kind, column in (
        ("cooling", "cooling_minutes"),
        ("comfort_care", "comfort_care_minutes"),
        ("transfer", "transfer_minutes"),
    ):
        minutes = babies[column].to_numpy()
        rows.add(~np.isnan(minutes), kind=kind, minutes=minutes, status="done")


def care_items(babies: pd.DataFrame, unit: Unit, scenario: Scenario, seed: int) -> pd.DataFrame:
    """Return every care row of every newborn, in order of newborn and time."""
    rng, rows = stream(seed, unit.id, "care"), Rows(read_contract()["care"])
    here = babies["live_birth"].to_numpy() & np.isin(
        babies["birth_place"].to_numpy(), ["birth_room", "operating_room"]
    )
    _at_birth(rows, rng, babies, scenario, here)
    _identity(rows, rng, babies, scenario)
    _skin_contact(rows, rng, babies, scenario)
    _first_day(rows, rng, babies, scenario)
    _offers(rows, rng, babies, scenario)
    _course(rows, babies)
    return rows.frame(babies["stay"].to_numpy())


def _missing_firsts(
    rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario
) -> None:
    """No stool, no void by the limit: charted then, and a provider told, mostly."""
    n, care, live = len(babies), scenario["care"], babies["live_birth"].to_numpy()
    for kind, first in (("no_stool", "first_stool"), ("no_void", "first_void")):
        limit = float(care[f"{kind}_after_minutes"])
        missing = live & ~(babies[first].to_numpy() <= limit)
        charted = missing & ~gap(rng, babies, scenario["gaps"]["finding"])
        told = charted & chance(rng, care["told"], n)
        at = limit + np.maximum(1, delay(rng, scenario["delay"]["told_provider"], n))
        rows.add(
            charted,
            kind=kind,
            minutes=np.full(n, limit),
            as_expected=np.zeros(n, dtype=bool),
            told_role=choose(told, pick(rng, care["told_roles"], n), None),
            told_minutes=np.where(told, at, np.nan),
        )


def _heart_screen(
    rows: Rows, rng: np.random.Generator, babies: pd.DataFrame, scenario: Scenario
) -> None:
    """The result of the heart screen, passed or not."""
    n, live = len(babies), babies["live_birth"].to_numpy()
    minutes = delay(rng, scenario["delay"]["heart_screen"], n) + 10
    charted = live & ~gap(rng, babies, scenario["gaps"]["heart_screen_result"])
    failed = chance(rng, scenario["care"]["heart_screen_failed"], n)
    rows.add(charted, kind="heart_screen", minutes=minutes, as_expected=~failed)


def findings(babies: pd.DataFrame, unit: Unit, scenario: Scenario, seed: int) -> pd.DataFrame:
    """Return the examination items looked at, and whom the nurse told of an unexpected one."""
    rng, n, care = stream(seed, unit.id, "findings"), len(babies), scenario["care"]
    rows, live = Rows(read_contract()["finding"]), babies["live_birth"].to_numpy()
    minutes = start_of_care(babies) + np.maximum(20, delay(rng, scenario["delay"]["size"], n) + 15)
    looked = live & ~gap(rng, babies, scenario["gaps"]["finding"])
    for kind, share in care["finding_unexpected"].items():
        odd = chance(rng, share, n)
        told = odd & chance(rng, care["told"], n)
        at = minutes + np.maximum(1, delay(rng, scenario["delay"]["told_provider"], n))
        rows.add(
            looked & ~gap(rng, babies, 0.01),
            kind=kind,
            minutes=minutes,
            as_expected=~odd,
            detail=choose(odd, care["finding_details"][kind], None),
            told_role=choose(told, pick(rng, care["told_roles"], n), None),
            told_minutes=np.where(told, at, np.nan),
        )
    _missing_firsts(rows, rng, babies, scenario)
    _heart_screen(rows, rng, babies, scenario)
    return rows.frame(babies["stay"].to_numpy())
