"""What is true of each thing a measure counts where it counts no newborns: cold readings and
episodes, low glucose, screens and findings, doses, counts of breaths and heart beats.

As ``true_events``: from the prose of the measures' headers and the generator's true tables.
"""

import tomllib
from collections.abc import Callable
from importlib.resources import files
from typing import Any, Final

import numpy as np
import pandas as pd

from .true_days import body, lowest_of_a_minute
from .true_events import DAY, Events

Things = pd.DataFrame  # one row per thing: newborn; in_rate, met: bool
MUSCLE: Final = ("vitamin_k", "hepatitis_b_vaccine", "hepatitis_b_immune_globulin")


def _things(rows: pd.DataFrame, in_rate: Any, met: Any) -> Things:
    every = {"newborn": rows["newborn"].to_numpy(), "in_rate": np.asarray(in_rate)}
    return pd.DataFrame(every | {"met": np.asarray(met)}).astype({"in_rate": bool, "met": bool})


def _followed(events: Events, rows: pd.DataFrame, until: Any, ends: str, **how: bool) -> Things:
    """Judge what was to follow each row of ``minutes`` within ``until``; ``ends`` came then."""
    rows = rows.reset_index(drop=True)
    by_row = events.at(rows["newborn"])
    met = rows[ends] - rows["minutes"] <= until
    who = by_row.judged(by_row.live, met, rows["minutes"] + until, rows[ends], **how)
    return _things(rows, who, met)


def _read_on(rows: pd.DataFrame, low: pd.Series, good: pd.Series) -> pd.DataFrame:
    """Return the low readings: the next one, the next good one, and whether one began with it."""
    newborn = rows["newborn"]
    was_low = low.astype(float).groupby(newborn).shift(1).eq(1)
    ended = rows["minutes"].where(good).groupby(newborn).bfill()
    after = rows["minutes"].groupby(newborn).shift(-1)
    return rows.assign(after=after, ended=ended, begins=~was_low)[low]


def _cold(events: Events) -> pd.DataFrame:
    rows = body(events)
    return _read_on(rows, rows["value"] < 36.5, rows["value"].between(36.5, 37.5))


def _cold_recheck(events: Events) -> Things:
    return _followed(events, _cold(events), 30, "after", is_for_warm=True, ends_at_home=True)


def _return_to_range(events: Events) -> Things:
    rows = _cold(events)
    return _followed(
        events, rows[rows["begins"]], 120, "ended", is_for_warm=True, ends_at_home=True
    )


def _low_glucose(until: int, ends: str) -> Any:
    def of(events: Events) -> Things:
        rows = lowest_of_a_minute(events._of("observation", ["glucose"]))
        low = rows["value"] < 45
        rows = _read_on(rows, low, ~low)
        return _followed(events, rows[rows["begins"]], until, ends, ends_at_home=True)

    return of


SCREENS: Final = (
    ("hearing_screen", "hearing_assessment", 30 * DAY),
    ("heart_screen", "echocardiogram", DAY),
    ("red_reflex", "eye_assessment", 14 * DAY),
)


def _screens(events: Events) -> Things:
    found = []
    for kind, assessment, until in SCREENS:
        rows = events._of("finding", [kind])
        passed = rows["as_expected"].astype("boolean").fillna(True).astype(bool)
        failed = events.first(rows[~passed])
        later = rows["minutes"].to_numpy() > failed.to_numpy()[rows["newborn"]]
        seen = rows["as_expected"].notna() & passed
        both = pd.concat([events.first(rows[seen & later]), events.done(assessment)], axis=1)
        # What was arranged before the screen was there at once.
        ends = both.min(axis=1).clip(lower=failed)
        own = pd.DataFrame({"newborn": failed.index, "minutes": failed, "ends": ends})
        found.append(_followed(events, own[failed.notna()], until, "ends"))
    return pd.concat(found, ignore_index=True)


def _tier(tiers: dict[str, Any], kind: str, detail: Any) -> float:
    tier = tiers.get(kind, 0)
    tier = tier.get(detail, 0) if isinstance(tier, dict) else tier
    return float(tier) if tier else np.nan


def tiers_of(unit: str) -> dict[str, Any]:
    """Return the starter list of findings to be told, with the unit's own lines over it."""
    folder = files("pipelines.definitions")
    shipped = tomllib.loads(folder.joinpath("findings.toml").read_text(encoding="utf-8"))
    own = tomllib.loads(folder.joinpath("units", f"{unit}.toml").read_text(encoding="utf-8"))
    tiers: dict[str, Any] = shipped["tiers"] | own.get("findings", {}).get("tiers", {})
    return tiers


def _escalated(events: Events) -> Things:
    rows = events.tables["finding"]
    rows = rows[rows["as_expected"].eq(False).fillna(False)]
    tiers = tiers_of(events.unit)
    both = zip(rows["kind"].astype(str), rows["detail"], strict=True)
    tier = pd.Series([_tier(tiers, kind, detail) for kind, detail in both], rows.index)
    rows = rows.assign(until=tier.map({1.0: 15, 2.0: 60, 3.0: 720}))[tier.notna()]
    told = rows["told_minutes"].clip(lower=rows["minutes"])
    rows = rows.assign(told=told).reset_index(drop=True)
    return _followed(events, rows, rows["until"], "told", ends_at_home=True)


def _given(events: Events, *kinds: str) -> pd.DataFrame:
    rows = events._of("dose", kinds)
    return rows[rows["status"] == "given"].reset_index(drop=True)


def _at_one_site(rows: pd.DataFrame) -> pd.DataFrame:
    """Return by row: a vaccine and a globulin together at one site, or perhaps so."""
    pair = rows[rows["kind"].isin(MUSCLE[1:])].reset_index(names="at")
    pair = pair[["at", "newborn", "kind", "minutes", "site"]].astype({"site": object})
    both = pair.merge(pair, on="newborn", suffixes=("", "_beside"))
    both = both[both["kind"].astype(str) != both["kind_beside"].astype(str)]
    apart = (both["minutes"] - both["minutes_beside"]).abs()
    near, far = apart <= 60, apart > 60
    blank = both["site"].isna() | both["site_beside"].isna()
    same = (both["site"] == both["site_beside"]) & ~blank
    found = pd.DataFrame({"one": near & same, "may": ~far & (blank | (~near & same))})
    return found.groupby(both["at"]).any().reindex(rows.index, fill_value=False)


def _route_and_site(events: Events) -> Things:
    rows = _given(events, "eye_antibiotic", *MUSCLE)
    right = np.where(rows["kind"] == "eye_antibiotic", "ophthalmic", "intramuscular")
    good = rows["route"].astype(object) == right
    beside = _at_one_site(rows)
    oral = (rows["kind"] == "vitamin_k") & (rows["route"] == "oral")
    met = good & ~beside["one"] & ~beside["may"]
    return _things(rows, events.at(rows["newborn"]).live & ~oral, met)


def _strength(events: Events) -> Things:
    rows = _given(events, *MUSCLE)
    known = rows["strength"].notna()
    return _things(rows, events.at(rows["newborn"]).live & known, rows["strength"] == "newborn")


def _vitamin_k_dose(events: Events) -> Things:
    rows = _given(events, "vitamin_k")
    rows = rows[rows["route"] == "intramuscular"].reset_index(drop=True)
    weight = events.at(rows["newborn"]).babies["weight_g"]
    full, kilograms = weight > 1500, weight / 1000
    least = np.where(full, 1.0, 0.3 * kilograms) * 0.9
    most = np.where(full, 1.0, 0.5 * kilograms) * 1.1
    amount = rows["amount"].where(rows["amount_unit"] == "mg")
    met = (amount.round(4) >= least.round(4)) & (amount.round(4) <= most.round(4))
    return _things(rows, events.at(rows["newborn"]).live, met & weight.notna())


def _counts(events: Events, *kinds: str) -> pd.DataFrame:
    """Return the counts of the first day that no device made."""
    rows = events._of("observation", kinds)
    rows = rows[(rows["minutes"] <= DAY) & (rows["method"].astype(object) != "device")]
    return rows.reset_index(drop=True)


def _full_minute(events: Events) -> Things:
    rows = _counts(events, "heart_rate", "respiratory_rate")
    return _things(rows, events.at(rows["newborn"]).live, rows["method"] == "full_minute")


def _by_four(events: Events) -> Things:
    rows = _counts(events, "respiratory_rate")
    who = events.at(rows["newborn"]).live & rows["value"].notna()
    return _things(rows, who, rows["value"] % 4 == 0)


ITEMS: Final[dict[str, Callable[[Events], Things]]] = {
    "cold_recheck": _cold_recheck,
    "return_to_range": _return_to_range,
    "low_glucose_rechecked": _low_glucose(60, "after"),
    "low_glucose_ended": _low_glucose(240, "ended"),
    "failed_screen_followed": _screens,
    "finding_escalated": _escalated,
    "route_and_site": _route_and_site,
    "product_strength": _strength,
    "vitamin_k_dose": _vitamin_k_dose,
    "full_minute_counts": _full_minute,
    "multiple_of_four_share": _by_four,
}
