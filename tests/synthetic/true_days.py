"""What is true of each newborn, measure by measure: screens, feeds, leaving and harm.

As ``true_events``: from the prose of the measures' headers and the generator's true tables.
"""

from collections.abc import Callable
from typing import Any, Final

import numpy as np
import pandas as pd

from .true_events import DAY, Events, Known

LATE_PRETERM, TERM = 35 * 7, 37 * 7
RSV_MONTHS: Final = (10, 11, 12, 1, 2, 3)


def declined(events: Events, kind: str) -> pd.Series:
    rows = events._of("care", [kind])
    return events.has(rows[(rows["status"] == "not_done") & (rows["reason"] == "declined")])


def lowest_of_a_minute(rows: pd.DataFrame) -> pd.DataFrame:
    """Return newborn, minutes and value, in order; two readings of one minute as the lower."""
    return rows.groupby(["newborn", "minutes"])[["value"]].min().reset_index()


def body(events: Events) -> pd.DataFrame:
    """Return the readings that are not of a probe on the skin, two of one minute as the lower."""
    rows = events._of("observation", ["temperature"])
    if "site" in rows:
        rows = rows[rows["site"].astype(object) != "skin"]
    rows = rows.assign(value=rows["value"].round(6)).dropna(subset=["value", "minutes"])
    return lowest_of_a_minute(rows)


def _breastfed(events: Events) -> Known:
    rows = events.care("first_feed")
    minutes = events.first(rows[rows["feed"] == "breast"])
    met = minutes <= 60
    who = events.owned() & ~(events.babies["gestational_age_days"] < 34 * 7)
    return events.known(events.judged(who, met, 60, minutes.where(met)), met)


def _first_feed(events: Events) -> Known:
    minutes = events.done("first_feed")
    met = minutes <= 60
    who = events.owned() & ~(events.babies["gestational_age_days"] < 34 * 7)
    return events.known(events.judged(who, met, 60, minutes.where(met)), met)


def _formula(events: Events) -> Known:
    rows = events.care("first_feed")
    rows = rows[rows["feed"].notna() & rows["minutes"].notna()]
    at_first = rows[rows["minutes"] == events.first(rows).to_numpy()[rows["newborn"]]]
    met = events.has(at_first[at_first["feed"] == "formula"])
    known = events.has(rows)
    return events.known(events.live & known, met, known, events.live)


def _bath(events: Events) -> Known:
    minutes = events.done("bath")
    met = minutes >= DAY
    own = events.judged(events.owned(), met, minutes, minutes)
    return events.known(own & minutes.notna(), met, minutes.notna(), own)


def _hearing(events: Events) -> Known:
    rows = events._of("finding", ["hearing_screen"])
    minutes = events.first(rows[rows["as_expected"].notna()])
    met = minutes <= 30 * DAY
    own = events.judged(events.owned(DAY), met, 30 * DAY, minutes)
    return events.known(own & (met | ~declined(events, "hearing_screen")), met)


def _blood_spot(events: Events) -> Known:
    rows = events.care("blood_spot")
    minutes = events.first(rows[rows["minutes"] >= DAY])
    met = minutes <= 2 * DAY
    own = events.judged(events.owned(DAY), met, 2 * DAY, minutes.where(met))
    own &= ~(events.home < DAY)
    return events.known(own & (met | ~declined(events, "blood_spot")), met)


def _blood_spot_repeated(events: Events) -> Known:
    rows = events.care("blood_spot")
    minutes = events.first(rows[rows["minutes"] >= DAY])
    met = minutes <= 14 * DAY
    who = events.live & events.has(rows[rows["minutes"] < DAY])
    own = events.judged(who, met, 14 * DAY, minutes.where(met))
    return events.known(own & (met | ~declined(events, "blood_spot")), met)


def _bilirubin(events: Events) -> Known:
    rows = events._of("observation", ["bilirubin"])
    opens = pd.Series(np.where(events.home < DAY, 0, DAY), events.babies.index)
    until = events.babies["discharge_minutes"].fillna(np.inf).clip(upper=2 * DAY)
    inside = rows["minutes"] >= opens.to_numpy()[rows["newborn"]]
    inside &= rows["minutes"] <= until.to_numpy()[rows["newborn"]]
    minutes = events.first(rows[inside])
    met = minutes.notna()
    who = events.owned(DAY) & ~(events.babies["gestational_age_days"] < LATE_PRETERM)
    return events.known(events.judged(who, met, 2 * DAY, minutes), met)


def _rsv_antibody(events: Events) -> Known:
    minutes = events.first(events.given("rsv_antibody"))
    met = minutes <= 7 * DAY
    born = pd.DatetimeIndex(events.babies["birth_month"]).month
    rows = events._of("dose", ["rsv_antibody"])
    apart = events.not_given("rsv_antibody", ("contraindicated",))
    apart |= events.has(rows[rows["reason"] == "mother_vaccinated"]) & minutes.isna()
    own = events.judged(events.owned(DAY), met, 7 * DAY, minutes.where(met))
    return events.known(own & np.isin(born, RSV_MONTHS) & (met | ~apart), met)


def _car_seat(events: Events) -> Known:
    babies = events.babies
    met = events.done("car_seat") <= events.home
    small = (babies["gestational_age_days"] < TERM) | (babies["weight_g"] < 2500)
    who = events.live & events.home.notna() & small
    return events.known(who & (met | ~declined(events, "car_seat")), met)


def _bands_at_leaving(events: Events) -> Known:
    met = events.done("band_check_leaving") <= events.home
    return events.known(events.live & events.home.notna(), met)


def _safe_sleep(events: Events) -> Known:
    rows = events._of("finding", ["safe_sleep"])
    rows = rows[rows["as_expected"].notna() & rows["minutes"].notna()]
    leaves = events.babies["discharge_minutes"].fillna(np.inf).to_numpy()
    rows = rows[rows["minutes"] <= leaves[rows["newborn"]]]
    last = rows.groupby("newborn")["minutes"].max().reindex(events.babies.index)
    at_last = rows[rows["minutes"] == last.to_numpy()[rows["newborn"]]]
    unsafe = events.has(at_last[~at_last["as_expected"].astype(bool)])
    met = last.notna() & ~unsafe
    own = events.judged(events.owned(DAY), met, DAY, last.where(met))
    return events.known(own & ~(events.home < DAY), met)


def _early_leaving(events: Events) -> Known:
    kinds = ("first_void", "first_stool", "follow_up_arranged")
    done = [events.done(kind) for kind in kinds]
    done.append(events.first(events._of("observation", ["bilirubin"])))
    met = pd.concat(done, axis=1).le(events.home, axis=0).all(axis=1)
    return events.known(events.live & (events.home < 2 * DAY), met)


def _sepsis_risk(events: Events) -> Known:
    babies, minutes = events.babies, events.done("sepsis_risk")
    met = minutes <= 240
    days = babies["gestational_age_days"]
    asked = (days < TERM) | (babies["maternal_temperature_c"].round(6) >= 38.0)
    who = events.owned(DAY) & (days >= LATE_PRETERM) & asked
    return events.known(events.judged(who, met, 240, minutes.where(met)), met)


def _weight_loss(events: Events) -> Known:
    rows = events._of("observation", ["weight"])
    rows = rows[rows["minutes"] <= 4 * DAY]
    birth = events.babies["weight_g"].to_numpy()[rows["newborn"]]
    loss = ((birth - rows["value"]) * 100 / birth).round(9)
    met = events.has(rows[loss > np.where(rows["minutes"] <= DAY, 7, 10)])
    first = events.first(rows)
    own = events.judged(events.owned(), met, first, first)
    own &= events.babies["weight_g"].notna()
    return events.known(own & first.notna(), met, first.notna(), own)


def _readmission(events: Events) -> Known:
    since = events.done("readmission") - events.home
    return events.known(events.live & events.home.notna(), since.between(0, 7 * DAY))


def _harm(days: int, *kinds: str, owned: bool = True, term: bool = False) -> Any:
    """Return the measure of an event of the other side: where no row is, there was none."""

    def of(events: Events) -> Known:
        minutes = events.done(*kinds)
        met = minutes <= days * DAY
        if not owned:
            return events.known(events.live, met)
        who = events.judged(events.owned(), met, days * DAY, minutes)
        if term:
            who &= events.babies["gestational_age_days"] >= TERM
        return events.known(who, met)

    return of


def _heel_pricks(events: Events) -> Known:
    pricks = pd.concat(
        [events.care("blood_spot", "heel_prick"), events._of("observation", ["glucose"])]
    )
    pricks = pricks[pricks["minutes"] <= 3 * DAY]
    count = pricks.groupby("newborn")["minutes"].nunique().reindex(events.babies.index)
    fifth = pricks.drop_duplicates(["newborn", "minutes"]).sort_values("minutes")
    fifth = fifth[fifth.groupby("newborn").cumcount() == 4]
    met = count >= 5
    return events.known(events.judged(events.owned(), met, 3 * DAY, events.first(fifth)), met)


def _second_temperature(events: Events) -> Known:
    rows = body(events)
    first = events.first(rows)
    later = rows[rows["minutes"] > first.to_numpy()[rows["newborn"]]]
    second = events.first(later)
    met = second - first <= 60
    closes = first.fillna(0) + 60
    return events.known(events.judged(events.owned(), met, closes, second), met)


def _lowest(low: float, high: float) -> Any:
    def of(events: Events) -> Known:
        babies, rows = events.babies, body(events)
        elsewhere = ~babies["birth_place"].isin(("birth_room", "operating_room"))
        opens = babies["arrival_minutes"].where(babies["birth_place"] == "other_site", 0.0)
        inside = rows["minutes"] >= opens.fillna(0.0).to_numpy()[rows["newborn"]]
        inside &= rows["minutes"] <= DAY
        inside &= ~(rows["minutes"] >= events.cooled.to_numpy()[rows["newborn"]])
        rows = rows[inside].sort_values(["newborn", "value", "minutes"])
        first = rows.drop_duplicates("newborn").set_index("newborn").reindex(babies.index)
        met = (first["value"] >= low) & (first["value"] < high)
        who = events.live & ~(elsewhere & (babies["arrival_minutes"] >= DAY))
        known = first["value"].notna()
        who = events.judged(who, met, DAY, first["minutes"], is_for_warm=True)
        return events.known(who & known, met, known, who)

    return of


DAYS: Final[dict[str, Callable[[Events], Known]]] = {
    "breastfed_first_hour": _breastfed,
    "first_feed": _first_feed,
    "first_feed_formula": _formula,
    "bath_not_early": _bath,
    "hearing_screen": _hearing,
    "blood_spot": _blood_spot,
    "blood_spot_repeated": _blood_spot_repeated,
    "bilirubin_before_leaving": _bilirubin,
    "rsv_antibody": _rsv_antibody,
    "car_seat": _car_seat,
    "bands_at_leaving": _bands_at_leaving,
    "safe_sleep": _safe_sleep,
    "early_leaving_set": _early_leaving,
    "sepsis_risk": _sepsis_risk,
    "weight_loss": _weight_loss,
    "readmission": _readmission,
    "intensive_care_at_term": _harm(7, "intensive_care", term=True),
    "phototherapy": _harm(14, "phototherapy"),
    "fall_or_collapse": _harm(28, "fall", "collapse", owned=False),
    "heel_pricks": _heel_pricks,
    "second_temperature": _second_temperature,
    "lowest_first_day_mild": _lowest(36.0, 36.5),
    "lowest_first_day_moderate": _lowest(32.0, 36.0),
    "lowest_first_day_severe": _lowest(-np.inf, 32.0),
    "lowest_first_day_any": _lowest(-np.inf, 36.5),
}
