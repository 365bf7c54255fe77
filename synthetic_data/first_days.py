"""What else belongs to the first days: feeds by kind, screens and their end, leaving, harm.

Drawn after everything else and from streams of its own, so that a seed gives the same newborns,
readings and doses as before this was there. No fault is planted in these rows (``is_spared``).
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import Unit
from synthetic_data.chances import chance, choose, delay, pick
from synthetic_data.contact import start_of_care
from synthetic_data.event_rows import Rows, merged
from synthetic_data.newborns import gap
from synthetic_data.scenario import Bools, Floats, Scenario, stream

Events = dict[str, pd.DataFrame]
TERM_DAYS, RISK_DAYS, SMALL_G = 37 * 7, 35 * 7, 2500
FEVER_C, LOW_GLUCOSE = 38.0, 45
DAY = 1440.0


class _Days:
    """A unit's newborns, the numbers of the scenario, and the rows that are added."""

    def __init__(self, babies: pd.DataFrame, events: Events, scenario: Scenario) -> None:
        self.babies, self.events, self.n = babies, events, len(babies)
        self.number: Mapping[str, Any] = scenario["first_days"]
        self.rows = {name: Rows(read_contract()[name]) for name in events}
        self.live: Bools = babies["live_birth"].to_numpy()
        self.stay: Floats = babies["stay"].to_numpy()
        self.days = babies["gestational_age_days"].to_numpy(dtype=float)
        self.start: Floats = start_of_care(babies)
        self.home = self.live & (babies["disposition"] == "home").to_numpy(dtype=bool)
        born = babies["birth_at"].to_numpy()
        self.until_export: Floats = (born.max() - born) / np.timedelta64(1, "m") + 720.0

    def add(self, table: str, where: Bools, minutes: Floats, **values: Any) -> Bools:
        """Add rows of those still in the unit at that minute; return which."""
        here = np.asarray(where & (minutes <= self.stay))
        self.rows[table].add(here, minutes=minutes, **values)
        return here

    def add_later(self, table: str, where: Bools, minutes: Floats, **values: Any) -> None:
        """Add rows that may be later than the stay of who went home, but not than the export."""
        seen = (minutes <= self.until_export) & (self.home | (minutes <= self.stay))
        self.rows[table].add(where & seen, minutes=minutes, **values)

    def first_failed(self, kind: str) -> Floats:
        """When a screen that was drawn before first failed; nan where it did not."""
        rows = self.events["finding"]
        failed = rows[(rows["kind"] == kind) & ~rows["as_expected"].fillna(True).astype(bool)]
        first = failed.groupby("newborn")["minutes"].min()
        return np.asarray(first.reindex(range(self.n)).to_numpy(dtype=float))


def _feeds(at: _Days, rng: np.random.Generator) -> None:
    """Say of each first feed what it was; of some nobody wrote it."""
    care, kinds = at.events["care"], read_contract()["care"].columns["feed"].allowed
    fed = pick(rng, at.number["first_feed"], at.n)
    fed[chance(rng, at.number["feed_not_said"], at.n)] = None
    is_feed = ((care["kind"] == "first_feed") & (care["status"] == "done")).to_numpy(dtype=bool)
    # Where nobody wrote when, nobody wrote what.
    is_feed = is_feed & care["minutes"].notna().to_numpy()
    said = choose(is_feed, fed[care["newborn"].to_numpy()], None)
    care["feed"] = pd.Categorical(said, categories=list(kinds))


def _screens(at: _Days, rng: np.random.Generator, babies: pd.DataFrame) -> None:
    """Hearing and blood spot, which some families decline, and bilirubin."""
    number = at.number
    for kind in ("hearing_screen", "blood_spot"):
        declined = at.live & chance(rng, number["declined"][kind], at.n)
        at.rows["care"].add(declined, kind=kind, status="not_done", reason="declined")
        minutes = delay(rng, number["delay"][kind], at.n)
        # Who leaves before a day has the spot taken on leaving, and mostly once more.
        early = at.stay < DAY
        minutes = np.where(early & (kind == "blood_spot"), np.maximum(1, at.stay - 30), minutes)
        done = at.live & ~declined & ~gap(rng, babies, number["gap"][kind])
        if kind == "blood_spot":
            done = at.add("care", done, minutes, kind=kind, status="done")
            again = done & (minutes < DAY) & chance(rng, number["spot_again"], at.n)
            later = np.maximum(DAY, delay(rng, number["delay"]["spot_again"], at.n))
            at.add_later("care", again, later, kind=kind, status="done")
        else:
            _hearing(at, rng, done, minutes)
    minutes = delay(rng, number["delay"]["bilirubin"], at.n)
    minutes = np.where(at.stay < DAY, np.maximum(1, at.stay - 45), minutes)
    value = np.clip(np.round(rng.normal(1.5 + 3.6 * minutes / DAY, 1.7)), 1, 18)
    read = at.live & ~gap(rng, babies, number["gap"]["bilirubin"])
    at.add("observation", read, minutes, kind="bilirubin", value=value)


def _hearing(at: _Days, rng: np.random.Generator, done: Bools, minutes: Floats) -> None:
    """The screen, and what followed where it was not passed: passed later, assessed, nothing."""
    number = at.number
    failed = chance(rng, number["hearing_failed"], at.n)
    done = at.add("finding", done, minutes, kind="hearing_screen", as_expected=~failed)
    failed = failed & done
    passed = failed & chance(rng, number["hearing_passed_later"], at.n)
    wait = minutes + np.maximum(300, delay(rng, number["delay"]["hearing_again"], at.n))
    at.add_later("finding", passed, wait, kind="hearing_screen", as_expected=passed)
    sent = failed & ~passed & chance(rng, number["followed"], at.n)
    at.add_later("care", sent, minutes + 600, kind="hearing_assessment", status="done")


def _other_screens(at: _Days, rng: np.random.Generator, babies: pd.DataFrame) -> None:
    """The red reflex at the examination, and what followed where eyes or heart did not pass."""
    number = at.number
    minutes = babies["examination"].to_numpy(dtype=float) + 2
    looked = at.live & ~np.isnan(minutes) & ~gap(rng, babies, number["gap"]["red_reflex"])
    odd = chance(rng, number["red_reflex_odd"], at.n)
    looked = at.add("finding", looked, minutes, kind="red_reflex", as_expected=~odd)
    sent = looked & odd & chance(rng, number["followed"], at.n)
    wait = minutes + np.maximum(60, delay(rng, number["delay"]["eye_assessment"], at.n))
    at.add_later("care", sent, wait, kind="eye_assessment", status="done")
    failed = at.first_failed("heart_screen")
    seen = ~np.isnan(failed) & chance(rng, number["followed"], at.n)
    wait = failed + np.maximum(30, delay(rng, number["delay"]["echocardiogram"], at.n))
    at.add_later("care", seen, wait, kind="echocardiogram", status="done")


def _low_glucose(at: _Days, rng: np.random.Generator) -> None:
    """A low glucose is taken again soon, mostly: of those who had all three checks, so that no
    count of checks is made full by it."""
    rows = at.events["observation"]
    own = rows[rows["kind"] == "glucose"]
    is_whole = own.groupby("newborn")["value"].transform("size") >= 3
    low = own[(own["value"] < LOW_GLUCOSE) & is_whole].drop_duplicates("newborn")
    first = low.set_index("newborn")[["minutes", "value"]].reindex(range(at.n))
    since, was = (first[name].to_numpy(dtype=float) for name in ("minutes", "value"))
    again = ~np.isnan(since) & chance(rng, at.number["glucose_again"], at.n)
    minutes = since + np.maximum(10, delay(rng, at.number["delay"]["glucose_again"], at.n))
    value = np.clip(np.round(was + rng.normal(16, 6, at.n)), 20, 120)
    at.add("observation", again, minutes, kind="glucose", charted_minutes=minutes + 2, value=value)


def _weights(at: _Days, rng: np.random.Generator, babies: pd.DataFrame) -> None:
    """Weighed after a day and after two; who lost more goes on to lose more."""
    birth_g, lean = babies["weight_g"].to_numpy(dtype=float), rng.normal(0, 1, at.n)
    for place, (hours, percent, spread) in enumerate(at.number["weight_loss"]):
        minutes = np.round(hours * 60 + rng.normal(0, 110, at.n))
        loss = percent + spread * (0.8 * lean + 0.6 * rng.normal(0, 1, at.n))
        value = np.round(birth_g * (1 - loss / 100) / 5) * 5
        where = at.live & ~np.isnan(birth_g) & ~gap(rng, babies, at.number["gap"]["weight"])
        at.add("observation", where, minutes + place, kind="weight", value=value)


def _antibody(at: _Days, rng: np.random.Generator, babies: pd.DataFrame) -> None:
    """The antibody against RSV, of those born in its months."""
    number, month = at.number, babies["birth_time"].dt.month.to_numpy()
    due = at.live & np.isin(month, number["rsv_months"])
    what = pick(rng, number["rsv"], at.n)
    minutes = at.start + np.maximum(60, delay(rng, number["delay"]["rsv_antibody"], at.n))
    at.add(
        "dose", due & (what == "given"), minutes, kind="rsv_antibody", status="given",
        route="intramuscular", site="right_thigh",
    )  # fmt: skip
    for said, status, reason in (
        ("declined", "refused", "declined"), ("mother", "held", "mother_vaccinated"),
    ):  # fmt: skip
        at.add("dose", due & (what == said), minutes, kind="rsv_antibody", status=status,
               reason=reason)  # fmt: skip


def _leaving(at: _Days, rng: np.random.Generator, babies: pd.DataFrame) -> None:
    """What is looked at before a newborn goes home, some minutes before it leaves."""
    number = at.number
    small = (at.days < TERM_DAYS) | (babies["weight_g"].to_numpy(dtype=float) < SMALL_G)
    for kind, who, longest in (
        ("car_seat", at.home & small, 900), ("follow_up_arranged", at.home, 600),
        ("band_check_leaving", at.home, 20),
    ):  # fmt: skip
        before = np.round(rng.uniform(1, longest, at.n))
        done = who & ~gap(rng, babies, number["gap"][kind])
        at.add("care", done, np.maximum(1, at.stay - before), kind=kind, status="done")
    minutes = at.start + np.maximum(30, delay(rng, number["delay"]["safe_sleep"], at.n))
    looked = at.live & ~gap(rng, babies, number["gap"]["safe_sleep"])
    safe = chance(rng, number["safe_sleep"], at.n)
    at.add("finding", looked, minutes, kind="safe_sleep", as_expected=safe)
    warm = babies["maternal_temperature_c"].to_numpy(dtype=float) >= FEVER_C
    asked = at.live & (at.days >= RISK_DAYS) & (warm | (at.days < TERM_DAYS))
    done = asked & ~gap(rng, babies, number["gap"]["sepsis_risk"])
    minutes = at.start + np.maximum(5, delay(rng, number["delay"]["sepsis_risk"], at.n))
    at.add("care", done, minutes, kind="sepsis_risk", status="done")


def _harm(at: _Days, rng: np.random.Generator, babies: pd.DataFrame) -> None:
    """The other side: light, intensive care, back again, falls and collapses."""
    number = at.number
    share = np.where(at.days < TERM_DAYS, number["light_preterm"], number["light_term"])
    minutes = np.maximum(600, delay(rng, number["delay"]["phototherapy"], at.n))
    ends = minutes + np.maximum(240, delay(rng, number["delay"]["phototherapy_length"], at.n))
    lit = at.live & chance(rng, share, at.n)
    at.add("care", lit, minutes, end_minutes=np.minimum(ends, at.stay), kind="phototherapy",
           status="done")  # fmt: skip
    moved = babies["transfer_minutes"].to_numpy(dtype=float)
    unplanned = at.live & (at.days >= TERM_DAYS) & ~np.isnan(moved)
    unplanned &= chance(rng, number["unplanned"], at.n)
    at.add("care", unplanned, moved, kind="intensive_care", status="done")
    back = at.home & chance(rng, number["readmitted"], at.n)
    later = at.stay + np.round(rng.uniform(0.5, 12, at.n) * DAY)
    at.add_later("care", back, later, kind="readmission", status="done")
    for kind in ("fall", "collapse"):
        hurt = at.live & chance(rng, number[kind], at.n)
        minutes = at.start + np.round(rng.uniform(30, 2000, at.n))
        at.add("care", hurt, minutes, kind=kind, status="done")


def add_first_days(
    babies: pd.DataFrame, events: Events, unit: Unit, scenario: Scenario, seed: int
) -> None:
    """Add these rows to the unit's events, in place, each in order of newborn and time."""

    def rng(name: str) -> np.random.Generator:
        return stream(seed, unit.id, "first days", name)

    at = _Days(babies, events, scenario)
    _feeds(at, rng("feeds"))
    _screens(at, rng("screens"), babies)
    _other_screens(at, rng("other screens"), babies)
    _low_glucose(at, rng("low glucose"))
    _weights(at, rng("weights"), babies)
    _antibody(at, rng("antibody"), babies)
    _leaving(at, rng("leaving"), babies)
    _harm(at, rng("harm"), babies)
    for name, rows in at.rows.items():
        events[name] = merged(events[name], rows)
