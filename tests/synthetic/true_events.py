"""What is true of each newborn of a generated unit, measure by measure, in plain pandas.

Made from the prose of the measures' headers and the generator's true tables; no code of
`pipelines` counts anything here.
"""

from collections.abc import Callable, Iterable
from copy import copy
from typing import Any, Final

import numpy as np
import pandas as pd

from synthetic_data import Truth

HERE: Final = ("birth_room", "operating_room")
DAY: Final = 1440
Known = pd.DataFrame  # index: newborn; in_rate, met, documented, asked: bool


class Events:
    """A unit's true tables, asked by newborn."""

    def __init__(self, truth: Truth) -> None:
        self.babies = truth.tables["admission"].reset_index(drop=True)
        self.tables, self.unit = truth.tables, truth.unit.id
        self.live = self.babies["live_birth"].astype(bool)
        left, how = self.babies["discharge_minutes"], self.babies["disposition"]
        self.died = left.where(how == "died")
        # A newborn that left, and nobody wrote where to, went home for all that a record can say.
        self.home = left.where((how == "home") | how.isna())
        moves = self.first(self._of("care", ["transfer"]))
        self.moved = pd.concat([moves, left.where(how == "transfer")], axis=1).min(axis=1)
        self.comfort = self.first(self._of("care", ["comfort_care"]))
        self.cooled = self.first(self._of("care", ["cooling"]))

    def owned(self, before: float | None = None) -> pd.Series:
        """Return who was born here, or on the way or brought here before a minute."""
        place, arrived = self.babies["birth_place"], self.babies["arrival_minutes"]
        here = place.isin(HERE)
        if before is not None:
            here |= (place == "before_arrival") & ~(arrived >= before)
            here |= (place == "other_site") & (arrived < before)
        return self.live & here

    def judged(
        self,
        who: pd.Series,
        met: pd.Series,
        closes: Any,
        seen: pd.Series | None = None,
        *,
        is_for_warm: bool = False,
        ends_at_home: bool = False,
    ) -> pd.Series:
        """Return of whom it can be said: a death, plan, move or cooling came after it was seen.

        ``seen``: the minute that settled it, missing where nothing did; of who met it, and is
        missing there, birth.
        """
        settled = pd.Series(np.nan, self.babies.index) if seen is None else seen.copy()
        settled = settled.where(settled.notna() | ~met, 0.0)
        out = self._cut(self.died, closes, settled, may_tie=True)
        out |= self._cut(self.comfort, closes, settled, may_tie=False)
        if is_for_warm:
            out |= self._cut(self.cooled, closes, settled, may_tie=False)
        ended = self._cut(self.moved, closes, settled, may_tie=True)
        if ends_at_home:
            ended |= self._cut(self.home, closes, settled, may_tie=True)
        return who & ~out & (met | ~ended)

    def at(self, newborns: pd.Series) -> "Events":
        """Return the same facts by row of a table of things, instead of by newborn."""
        rows = copy(self)
        for name in ("babies", "live", "died", "home", "moved", "comfort", "cooled"):
            own = getattr(self, name).loc[newborns].reset_index(drop=True)
            setattr(rows, name, own)
        return rows

    def _cut(self, at: pd.Series, closes: Any, settled: pd.Series, *, may_tie: bool) -> pd.Series:
        before = (settled <= at) if may_tie else (settled < at)
        cut: pd.Series = (at < closes) & ~before
        return cut

    def _of(self, table: str, kinds: Iterable[str]) -> pd.DataFrame:
        rows = self.tables[table]
        return rows[rows["kind"].isin(list(kinds))]

    def first(self, rows: pd.DataFrame) -> pd.Series:
        """Return the first minute of some rows by newborn; missing where there is none."""
        return rows.groupby("newborn")["minutes"].min().reindex(self.babies.index)

    def has(self, rows: pd.DataFrame) -> pd.Series:
        return pd.Series(self.babies.index.isin(rows["newborn"]), index=self.babies.index)

    def known(
        self, in_rate: pd.Series, met: pd.Series, documented: Any = True, asked: Any = None
    ) -> Known:
        """``asked``: who would be in the rate were all documented; None: who is."""
        every = {"in_rate": in_rate, "met": met, "documented": documented}
        every["asked"] = in_rate if asked is None else asked
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

    def care(self, *kinds: str) -> pd.DataFrame:
        """Return what was done; a file with only a time for it says no status."""
        rows = self._of("care", kinds)
        return rows[rows["status"].astype(object) != "not_done"]

    def done(self, *kinds: str) -> pd.Series:
        return self.first(self.care(*kinds))


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
    found: pd.DataFrame = first.assign(value=first["value"].round(6)).reset_index(drop=True)
    return found


def arrived(low: float, high: float, left_out: bool, ends: bool = False) -> Any:
    def of(events: Events) -> Known:
        babies, first = events.babies, arrival_reading(events).set_index("newborn")
        first = first.reindex(babies.index)
        value = first["value"]
        met = (value >= low) & ((value <= high) if ends else (value < high))
        elsewhere = ~babies["birth_place"].isin(HERE)
        late = elsewhere & (babies["arrival_minutes"] >= DAY)
        opens = babies["arrival_minutes"].fillna(0.0)
        who = events.judged(
            events.live & ~late, met, opens + 60, first["minutes"], is_for_warm=True
        )
        documented = value.notna()
        return events.known(who & (documented | (not left_out)), met, documented, who)

    return of


def _first_temperature(events: Events) -> Known:
    first = events.first(events._of("observation", ["temperature"]))
    met = first <= 60
    own = events.judged(events.owned(), met, 60, first.where(met), is_for_warm=True)
    return events.known(own, met)


def _warm_excess(events: Events) -> Known:
    rows = events._of("observation", ["temperature"])
    rows = rows[rows["minutes"] <= 240]
    hot, read = events.has(rows[rows["value"].round(6) > 37.5]), events.has(rows)
    who = events.judged(events.owned(), hot, 240, events.first(rows), is_for_warm=True)
    return events.known(who & read, hot)


def _vitamin_k(events: Events) -> Known:
    minutes = events.first(events.given("vitamin_k", route="intramuscular"))
    met = minutes <= 360
    apart = events.not_given("vitamin_k", ("contraindicated", "unstable", "oral_chosen"))
    apart |= events.not_given("vitamin_k", ("later",)) & (minutes <= DAY)
    own = events.judged(events.owned(180), met, 360, minutes.where(met))
    return events.known(own & (met | ~apart), met)


def _eye_ointment(events: Events) -> Known:
    given = events.given("eye_antibiotic", route="ophthalmic", site="both_eyes")
    minutes = events.first(given)
    met = minutes <= 120
    apart = events.not_given("eye_antibiotic", ("contraindicated", "no_stock"))
    own = events.judged(events.owned(60), met, 120, minutes.where(met))
    return events.known(own & (met | ~apart), met)


def status_at_12_hours(events: Events) -> pd.Series:
    """Return the mother's status as known at 12 hours."""
    babies = events.babies
    known = ~(babies["maternal_hepatitis_b_minutes"] > 720)
    status = babies["maternal_hepatitis_b"].astype(object)
    return status.where(known & status.notna(), "unknown")


def _mother_positive(events: Events) -> Known:
    doses = ("hepatitis_b_vaccine", "hepatitis_b_immune_globulin")
    minutes = pd.concat([events.first(events.given(kind)) for kind in doses], axis=1)
    met = (minutes <= 720).all(axis=1)
    declined = events.not_given(doses[0], ()) & ~met
    who = events.owned(360) & (status_at_12_hours(events) == "positive")
    own = events.judged(who, met, 720, minutes.max(axis=1).where(met))
    return events.known(own & ~declined, met)


def in_muscle(events: Events, kind: str) -> pd.Series:
    """Return when it was given into a muscle; a blank route counts as that."""
    rows = events.given(kind)
    return events.first(rows[rows["route"].isna() | (rows["route"] == "intramuscular")])


def _universal(events: Events) -> Known:
    minutes = in_muscle(events, "hepatitis_b_vaccine")
    met = minutes <= DAY
    apart = events.not_given("hepatitis_b_vaccine", ("unstable",))
    who = events.owned(360) & (status_at_12_hours(events) == "negative")
    who &= events.babies["weight_g"] >= 2000
    own = events.judged(who, met, DAY, minutes.where(met))
    return events.known(own & (met | ~apart), met)


def _status_known(events: Events) -> Known:
    known = events.babies["maternal_hepatitis_b"].isin(["positive", "negative"])
    minutes = events.babies["maternal_hepatitis_b_minutes"].fillna(0.0).clip(lower=0.0)
    met = known & (minutes <= 720)
    return events.known(events.judged(events.owned(360), met, 720, minutes.where(met)), met)


def _bands(events: Events) -> Known:
    leaves = events.babies["leave_birth_room_minutes"]
    done = pd.concat([events.done("two_bands"), events.done("band_check")], axis=1)
    met = done.le(leaves, axis=0).all(axis=1)
    rows = events._of("care", ["two_bands"])
    moved = events.has(rows[rows["reason"] == "emergency_move"])
    own = events.judged(events.owned(), met, leaves.fillna(1.0), done.max(axis=1).where(met))
    return events.known(own & (met | ~moved), met)


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
    is_declined = not_done["reason"] == "declined"
    apart = (events.has(not_done[is_declined]) & ~met) | events.has(not_done[~is_declined])
    own = events.judged(events.owned(DAY), met, 7 * DAY, pd.concat(sites, axis=1).max(axis=1))
    return events.known(own & ~(events.home < DAY) & ~apart, met)


def _first_examination(events: Events) -> Known:
    minutes = events.done("examination")
    met = minutes <= DAY
    own = events.judged(events.owned(720), met, DAY, minutes.where(met))
    return events.known(own & ~(events.home < DAY), met)


def _apgar_pair(events: Events) -> Known:
    met = events.babies[["apgar_1", "apgar_5"]].notna().all(axis=1)
    seen = pd.Series(5.0, events.babies.index).where(met)
    return events.known(events.judged(events.owned(), met, 5, seen), met)


def _unstable(events: Events, until: float) -> pd.Series:
    """Return of whom something was not done by then because the newborn was not stable."""
    rows = pd.concat([events.tables["care"], events.tables["dose"]])
    rows = rows[rows["status"].isin(["not_done", "held"]) & ~(rows["minutes"] > until)]
    return events.has(rows[rows["reason"].isin(["newborn_unstable", "unstable"])])


def _size_triad(events: Events) -> Known:
    sizes = events.babies[["weight_g", "length_cm", "head_circumference_cm"]].notna().all(axis=1)
    minutes = events.babies["size_minutes"]
    met = sizes & ~(minutes > DAY)
    seen = minutes.fillna(float(DAY)).where(met)
    parts = events.babies[["length_cm", "head_circumference_cm"]].notna().all(axis=1)
    apart = _unstable(events, DAY) & events.babies["weight_g"].notna() & ~parts
    return events.known(events.judged(events.owned(), met, DAY, seen) & ~apart, met)


def _birth_weight(events: Events) -> Known:
    minutes = events.babies["size_minutes"].where(events.babies["weight_g"].notna())
    met = minutes <= 120
    own = events.judged(events.owned(), met, 120, minutes.where(met))
    return events.known(own & (met | ~_unstable(events, 120)), met)


def _in_a_day(kind: str) -> Callable[[Events], Known]:
    def of(events: Events) -> Known:
        first = events.done(kind)
        met = first <= DAY
        own = events.judged(events.owned(), met, DAY, first.where(met), ends_at_home=True)
        return events.known(own & first.notna(), met, first.notna(), own)

    return of


TRUE: Final[dict[str, Callable[[Events], Known]]] = {
    "arrival_temperature": arrived(36.5, 37.5, left_out=False, ends=True),
    "arrival_cold_any": arrived(-np.inf, 36.5, left_out=True),
    "arrival_cold_mild": arrived(36.0, 36.5, left_out=True),
    "arrival_cold_moderate": arrived(32.0, 36.0, left_out=True),
    "first_temperature": _first_temperature,
    "warm_excess": _warm_excess,
    "vitamin_k": _vitamin_k,
    "eye_ointment": _eye_ointment,
    "hepatitis_b_mother_positive": _mother_positive,
    "hepatitis_b_universal": _universal,
    "maternal_hepatitis_b_known": _status_known,
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
    asked = known["asked"]
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
