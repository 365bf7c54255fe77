"""What is true of each newborn, measure by measure: contact, cord, scores, doses.

As ``true_events``: from the prose of the measures' headers and the generator's true tables.
"""

from collections.abc import Callable
from typing import Any, Final

import numpy as np
import pandas as pd

from .true_events import DAY, Events, Known, arrived, in_muscle, status_at_12_hours

WELL = ("declined", "mother_unwell", "newborn_unstable", "separation")
FIELDS: Final = (
    *("birth_place", "mode_of_birth", "gestational_age_days", "sex", "plurality", "weight_g"),
    *("length_cm", "head_circumference_cm", "apgar_1", "apgar_5", "maternal_hepatitis_b"),
    *("disposition", "language", "payer"),
)
VACCINE, GLOBULIN = "hepatitis_b_vaccine", "hepatitis_b_immune_globulin"


def _helped(events: Events) -> pd.Series:
    return events.babies["resuscitation"].isin(["ventilation", "compressions"])


def _cord(events: Events) -> Known:
    rows = events.care("cord_clamp")
    seconds = rows.groupby("newborn")["quantity"].min().reindex(events.babies.index)
    met = seconds >= 60
    said = rows["reason"].isin(["cord_interrupted", "mother_unwell", "newborn_unstable"])
    apart = events.has(rows[said]) | _helped(events)
    own = events.judged(events.owned(), met, 1, seconds / 60)
    return events.known(own & (met | ~apart), met)


def _contact(events: Events) -> tuple[pd.Series, pd.Series, pd.Series]:
    """Return when the first contact began and ended, and whose could be asked for at all."""
    rows = events.care("skin_contact").sort_values("minutes").drop_duplicates("newborn")
    row = rows.set_index("newborn")[["minutes", "end_minutes"]].reindex(events.babies.index)
    asked = events.owned() & ~(events.babies["gestational_age_days"] < 35 * 7) & ~_helped(events)
    return row["minutes"].clip(lower=0), row["end_minutes"], asked


def _contact_start(events: Events) -> Known:
    begins, _, asked = _contact(events)
    mode, general = events.babies["mode_of_birth"], events.babies["anaesthesia"] == "general"
    until = pd.Series(np.where(mode.isin(["vaginal", "assisted_vaginal"]), 5, 15), mode.index)
    met = begins <= until
    rows = events._of("care", ["skin_contact"])
    rows = rows[(rows["status"] == "not_done") & rows["reason"].isin(WELL)]
    apart = events.has(rows) | general
    own = events.judged(asked, met, until, begins)
    # Between the two windows the mode of birth decides.
    met &= ~(mode.isna() & (begins > 5))
    return events.known(own & (met | ~apart), met)


def _contact_held(events: Events) -> Known:
    begins, ends, asked = _contact(events)
    met = (ends - begins >= 60) & (begins <= 60)
    apart = (events.babies["anaesthesia"] == "general") & (begins > 60)
    # It had ended only when a pause of two minutes had passed.
    own = events.judged(asked & begins.notna(), met, begins + 60, ends + 2)
    return events.known(own & (met | ~apart), met)


def _warm_start(events: Events) -> Known:
    steps = (("drying", "plastic_bag"), ("head_cover",), ("warmer", "skin_contact"))
    done = pd.concat([events.done(*kinds) for kinds in steps], axis=1)
    met = (done <= 10).all(axis=1)
    own = events.judged(events.owned(), met, 10, done.max(axis=1, skipna=False))
    return events.known(own, met)


def _extended_apgar(events: Events) -> Known:
    five, ten, fifteen, twenty = (
        events.babies[f"apgar_{minute}"] for minute in ("5", "10", "15", "20")
    )
    ends = (fifteen >= 7) | twenty.notna()
    met = (ten >= 7) | (ten.notna() & fifteen.notna() & ends)
    last = pd.Series(np.select([~(ten < 7), ~(fifteen < 7)], [10, 15], 20), five.index)
    who = events.owned() & (five < 7)
    return events.known(events.judged(who, met, last, last.where(met)), met)


def _nothing_came(kind: str, first: str, limit: int) -> Any:
    def of(events: Events) -> Known:
        rows = events._of("finding", [kind])
        rows = rows[rows["as_expected"].eq(False).fillna(False)]
        told = rows.groupby("newborn")["told_minutes"].min().reindex(events.babies.index)
        met = told <= limit + 120
        came = events.done(first)
        until = pd.concat([came, events.moved, events.babies["discharge_minutes"]], axis=1).min(
            axis=1
        )
        who = events.owned() & ~(until <= limit)
        own = events.judged(who, met, limit + 120, told, ends_at_home=True)
        return events.known(own, met)

    return of


def _complete(events: Events) -> Known:
    return events.known(events.live, events.babies[[*FIELDS]].notna().all(axis=1))


def _protected(which: str) -> Any:
    """Return a measure of the doses that a mother's status and a weight ask for."""

    def of(events: Events) -> Known:
        status, weight = status_at_12_hours(events), events.babies["weight_g"]
        vaccine = in_muscle(events, VACCINE)
        globulin = in_muscle(events, GLOBULIN)
        small = weight < 2000
        negative, unknown = status == "negative", status == "unknown"
        until = pd.Series(np.where(negative, DAY, 720), weight.index)
        positive_later = unknown & (events.babies["maternal_hepatitis_b"] == "positive")
        if which == "unknown_big":
            due, asked = (globulin <= 7 * DAY), positive_later
            who = unknown & (weight >= 2000)
        elif which == "unknown_small":
            due, asked = (globulin <= 720), small
            who = unknown & small
        else:
            due, asked = (globulin <= 720), (status == "positive") | (unknown & small)
            who = ~(negative & small)
        # Without a weight nobody can say what a newborn needed, but of a positive mother.
        met = (vaccine <= until) & (due | ~asked) & ((status == "positive") | weight.notna())
        seen = vaccine.where(~asked, np.maximum(vaccine, globulin))
        own = events.judged(events.owned(360) & who, met, until, seen.where(met))
        declined = events.not_given(VACCINE, ()) & (due | ~asked)
        unstable = negative & events.not_given(VACCINE, ("unstable",))
        return events.known(own & (met | ~(declined | unstable)), met)

    return of


def _decision(events: Events) -> Known:
    talk = events.care("hepatitis_b_decision")
    doses = events._of("dose", [VACCINE])
    held = (doses["status"] == "held") & doses["reason"].isin(["declined", "later"])
    doses = doses[doses["status"].isin(["given", "refused"]) | held]
    rows = pd.concat([talk, doses])
    minutes = events.first(rows).clip(lower=0)
    met = (minutes <= DAY) & ~(minutes > events.home)
    who = events.owned(360) & (status_at_12_hours(events) == "negative")
    who &= events.babies["weight_g"] >= 2000
    own = events.judged(who, met, DAY, minutes)
    return events.known(own, met)


def _small_negative(events: Events) -> Known:
    minutes = in_muscle(events, VACCINE)
    babies = events.babies
    met = (minutes <= 30 * DAY) & ~(minutes > events.home)
    who = events.owned(360) & (status_at_12_hours(events) == "negative")
    who &= babies["weight_g"] < 2000
    given = events.has(events.given(VACCINE))
    who &= ~((babies["disposition"] == "in_unit") & ~given)
    own = events.judged(who, met, 30 * DAY, minutes)
    return events.known(own & (met | ~events.not_given(VACCINE, ())), met)


CARE: Final[dict[str, Callable[[Events], Known]]] = {
    "arrival_cold_severe": arrived(-np.inf, 32.0, left_out=True),
    "cord_clamp_deferred": _cord,
    "skin_contact_start": _contact_start,
    "skin_contact_sustained": _contact_held,
    "warm_start_actions": _warm_start,
    "extended_apgar": _extended_apgar,
    "no_void_escalated": _nothing_came("no_void", "first_void", DAY),
    "no_stool_escalated": _nothing_came("no_stool", "first_stool", 2 * DAY),
    "record_completeness": _complete,
    "hepatitis_b_birth_dose": _protected("every"),
    "hepatitis_b_unknown_2000_g_or_more": _protected("unknown_big"),
    "hepatitis_b_unknown_under_2000_g": _protected("unknown_small"),
    "hepatitis_b_decision": _decision,
    "hepatitis_b_small_negative": _small_negative,
}
