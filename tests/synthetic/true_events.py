"""What is true of each newborn of a generated unit, measure by measure, in plain pandas.

Made from the prose of the measures' headers and the generator's true tables; no code of
`pipelines` counts anything here.
"""

from collections.abc import Callable, Iterable
from typing import Any, Final

import numpy as np
import pandas as pd

from synthetic_data import Truth

HERE: Final = ("birth_room", "operating_room")
DAY: Final = 1440
Known = pd.DataFrame  # index: newborn; in_rate, met: bool; documented: bool


class Events:
    """A unit's true tables, asked by newborn."""

    def __init__(self, truth: Truth) -> None:
        self.babies = truth.tables["admission"].reset_index(drop=True)
        self.tables = truth.tables
        went = self.babies["disposition"].isin(["home", "in_unit"])
        apart = set(self._of("care", ["cooling", "comfort_care"])["newborn"])
        self.stays = self.babies["live_birth"].astype(bool) & went
        self.stays &= ~self.babies.index.isin(apart)
        self.own = self.stays & self.babies["birth_place"].isin(HERE)

    def _of(self, table: str, kinds: Iterable[str]) -> pd.DataFrame:
        rows = self.tables[table]
        return rows[rows["kind"].isin(list(kinds))]

    def first(self, rows: pd.DataFrame) -> pd.Series:
        """Return the first minute of some rows by newborn; missing where there is none."""
        return rows.groupby("newborn")["minutes"].min().reindex(self.babies.index)

    def has(self, rows: pd.DataFrame) -> pd.Series:
        return pd.Series(self.babies.index.isin(rows["newborn"]), index=self.babies.index)

    def known(self, in_rate: pd.Series, met: pd.Series, documented: Any = True) -> Known:
        every = {"in_rate": in_rate, "met": met, "documented": documented}
        return pd.DataFrame(every, index=self.babies.index).astype(bool)

    def given(self, kind: str, **asked: str) -> pd.DataFrame:
        rows = self._of("dose", [kind])
        rows = rows[rows["status"] == "given"]
        for column, value in asked.items():
            rows = rows[rows[column] == value]
        return rows

    def not_given(self, kind: str, reasons: Iterable[str]) -> pd.Series:
        """Return who declined, or whose dose was held for one of these reasons."""
        rows = self._of("dose", [kind])
        held = (rows["status"] == "held") & rows["reason"].isin([*reasons, "declined"])
        return self.has(rows[(rows["status"] == "refused") | held])

    def done(self, kind: str) -> pd.Series:
        rows = self._of("care", [kind])
        return self.first(rows[rows["status"] == "done"])


def arrival_reading(events: Events) -> pd.DataFrame:
    """Return the first temperature of the hour after arrival: newborn, minutes, value."""
    babies = events.babies
    in_one_room = babies["birth_place"].isin(HERE)
    opens = babies["arrival_minutes"].where(
        babies["arrival_minutes"].notna(), np.where(in_one_room, 0.0, np.nan)
    )
    rows = events._of("observation", ["temperature"])
    since = rows["minutes"] - opens.to_numpy()[rows["newborn"]]
    inside = rows[(since >= 0) & (since <= 60)].sort_values(["newborn", "minutes", "value"])
    first = inside.drop_duplicates("newborn")[["newborn", "minutes", "value"]]
    return first.assign(value=first["value"].round(6)).reset_index(drop=True)


def _arrived(low: float, high: float, left_out: bool, ends: bool = False) -> Any:
    def of(events: Events) -> Known:
        first = arrival_reading(events).set_index("newborn")["value"]
        value = first.reindex(events.babies.index)
        met = (value >= low) & ((value <= high) if ends else (value < high))
        elsewhere = ~events.babies["birth_place"].isin(HERE)
        late = elsewhere & (events.babies["arrival_minutes"] >= DAY)
        who = events.stays & ~late
        return events.known(who & (value.notna() | (not left_out)), met, value.notna())

    return of


def _first_temperature(events: Events) -> Known:
    first = events.first(events._of("observation", ["temperature"]))
    return events.known(events.own, first <= 60)


def _warm_excess(events: Events) -> Known:
    rows = events._of("observation", ["temperature"])
    rows = rows[rows["minutes"] <= 240]
    hot = events.has(rows[rows["value"].round(6) > 37.5])
    return events.known(events.own & events.has(rows), hot)


def _vitamin_k(events: Events) -> Known:
    first = events.first(events.given("vitamin_k", route="intramuscular"))
    met = first <= 360
    apart = events.not_given("vitamin_k", ("contraindicated", "unstable", "oral_chosen"))
    apart |= events.not_given("vitamin_k", ("later",)) & (first <= DAY)
    return events.known(events.own & (met | ~apart), met)


def _eye_ointment(events: Events) -> Known:
    given = events.given("eye_antibiotic", route="ophthalmic", site="both_eyes")
    met = events.first(given) <= 120
    apart = events.not_given("eye_antibiotic", ("contraindicated", "no_stock"))
    return events.known(events.own & (met | ~apart), met)


def _mother_positive(events: Events) -> Known:
    babies, doses = events.babies, ("hepatitis_b_vaccine", "hepatitis_b_immune_globulin")
    known = ~(babies["maternal_hepatitis_b_minutes"] > 720)
    who = events.own & (babies["maternal_hepatitis_b"] == "positive") & known
    met = pd.concat([events.first(events.given(kind)) <= 720 for kind in doses], axis=1).all(axis=1)
    declined = events.not_given(doses[0], ()) & ~met
    return events.known(who & ~declined, met)


def _bands(events: Events) -> Known:
    leaves = events.babies["leave_birth_room_minutes"]
    met = (events.done("two_bands") <= leaves) & (events.done("band_check") <= leaves)
    rows = events._of("care", ["two_bands"])
    moved = events.has(rows[rows["reason"] == "emergency_move"])
    return events.known(events.own & (met | ~moved), met)


def _is_belied(events: Events, rows: pd.DataFrame) -> pd.Series:
    """Return whose saturations cannot have passed though the result says so: unusable."""
    values = [
        rows[rows["site"] == site].groupby("newborn")["value"].first().reindex(events.babies.index)
        for site in ("right_hand", "foot")
    ]
    both = pd.concat(values, axis=1)
    low, high = both.min(axis=1), both.max(axis=1)
    results = events._of("finding", ["heart_screen"])
    failed = events.has(results[results["as_expected"].eq(False).fillna(False)])
    return ((low < 90) | (high < 95) | (high - low > 3)) & ~failed


def _heart_screen(events: Events) -> Known:
    rows, babies = events._of("observation", ["oxygen_saturation"]), events.babies
    sites = [events.first(rows[rows["site"] == site]) for site in ("right_hand", "foot")]
    met = events.has(events._of("finding", ["heart_screen"]))
    for minutes in sites:
        met &= (minutes >= DAY) & ~(minutes > babies["discharge_minutes"])
    met &= ~_is_belied(events, rows)
    not_done = events._of("care", ["heart_screen"])
    stayed = ~(babies["discharge_minutes"] < DAY)
    return events.known(events.own & stayed & ~events.has(not_done), met)


def _first_examination(events: Events) -> Known:
    stayed = ~(events.babies["discharge_minutes"] < DAY)
    return events.known(events.own & stayed, events.done("examination") <= DAY)


def _apgar_pair(events: Events) -> Known:
    return events.known(events.own, events.babies[["apgar_1", "apgar_5"]].notna().all(axis=1))


def _size_triad(events: Events) -> Known:
    sizes = events.babies[["weight_g", "length_cm", "head_circumference_cm"]].notna().all(axis=1)
    return events.known(events.own, sizes & ~(events.babies["size_minutes"] > DAY))


def _birth_weight(events: Events) -> Known:
    timed = events.babies["weight_g"].notna() & events.babies["size_minutes"].notna()
    return events.known(events.own, timed & (events.babies["size_minutes"] <= 120))


def _in_a_day(kind: str) -> Callable[[Events], Known]:
    def of(events: Events) -> Known:
        first = events.done(kind)
        return events.known(events.own & first.notna(), first <= DAY, first.notna())

    return of


TRUE: Final[dict[str, Callable[[Events], Known]]] = {
    "arrival_temperature": _arrived(36.5, 37.5, left_out=False, ends=True),
    "arrival_cold_any": _arrived(-np.inf, 36.5, left_out=True),
    "arrival_cold_mild": _arrived(36.0, 36.5, left_out=True),
    "arrival_cold_moderate": _arrived(32.0, 36.0, left_out=True),
    "first_temperature": _first_temperature,
    "warm_excess": _warm_excess,
    "vitamin_k": _vitamin_k,
    "eye_ointment": _eye_ointment,
    "hepatitis_b_mother_positive": _mother_positive,
    "two_bands": _bands,
    "heart_screen": _heart_screen,
    "first_examination": _first_examination,
    "apgar_pair": _apgar_pair,
    "size_triad": _size_triad,
    "birth_weight_on_time": _birth_weight,
    "first_stool": _in_a_day("first_stool"),
    "first_void": _in_a_day("first_void"),
}


def by_month(events: Events, known: Known) -> pd.DataFrame:
    """Return the true counts of one measure: month, numerator, counted and what a series has."""
    month = pd.DatetimeIndex(events.babies["birth_month"]).to_period("M").to_timestamp()
    asked = events.stays if not known["documented"].all() else known["in_rate"]
    rows = pd.DataFrame(
        {
            "month": month,
            "numerator": known["in_rate"] & known["met"],
            "counted": known["in_rate"],
            "denominator": asked,
            "not_documented": asked & ~known["documented"],
        }
    )
    sums = rows.groupby("month").sum().reset_index()
    return sums.assign(exception=0, unusable=0)
