"""The records someone reads: all that should never happen, a sample of what is serious.

Everything else is counted by measure, and names nobody. How grave a reason is stands in the
measure's file and the unit's (``definitions/gravity.py``).
"""

from collections.abc import Iterable
from hashlib import md5
from typing import Final

import pandas as pd

from pipelines.base.frames import checked, columns_of, rows_of
from pipelines.base.kept import kept_on_data
from pipelines.definitions.gravity import GRAVEST, LEVELS, TIERS
from pipelines.definitions.states import STATE_URGENCY, UNKNOWN
from pipelines.definitions.worklist import SAMPLE
from pipelines.pages.review.frames import (
    CountedRow,
    GravestRow,
    RecordFlagRow,
    RecordMeasureRow,
    RecordRow,
    UnitMatterRow,
)
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.reason_words import (
    flag_words,
    measure_words,
    states_its_reading,
    told_once,
)
from pipelines.reading.small_numbers import SMALL

# A measure that more than this share of its newborns miss says something about the unit, not
# about one record; listing them all would hide the others. Own choice, no published source.
UNIT_SHARE = 0.5
COLUMNS = list(columns_of(RecordRow))
_PLACE: Final = {level: place for place, level in enumerate(LEVELS)}
_FLAGGED: Final = len(LEVELS)  # a flag on a value comes after every reason of a measure


@kept_on_data
def unit_matters(data: ReviewData) -> pd.DataFrame:
    """Return the measures whose misses list no record of this month, the most missed first.

    Rows of ``data.measures`` with missed (all who did not meet it), among (those who
    could be: nobody with an accepted reason), share and because: ``listed`` (the measure or the
    unit's policy says so) or ``more_than_half`` (of at least 20). What happened where lower is
    better, and what is known and should never happen, is listed however often it is.
    """
    quiet = data.record_measures[~_always(data.record_measures)]
    misses = data.record_measures[data.record_measures["state"] != "met"]
    misses = misses[misses["measure_id"].isin(quiet["measure_id"])]
    missed = misses.groupby("measure_id").size().rename("missed")
    rows = data.measures.merge(missed, on="measure_id")
    # N, as everywhere; where the unknown stay out of N, they are missed here all the same.
    could_be = rows["counted"] + rows[sorted(UNKNOWN)].sum(axis="columns")
    rows["among"] = rows["counted"].where(rows["missing"] == "not_met", could_be)
    rows["share"] = rows["missed"] / rows["among"]
    said = data.left_to_unit.set_index("measure_id")["because"]
    rows["because"] = rows["measure_id"].map(said)
    often = (rows["share"] > UNIT_SHARE) & (rows["among"] >= SMALL)
    rows["because"] = rows["because"].mask(rows["because"].isna() & often, "more_than_half")
    rows = rows[rows["because"].isin(["listed", "more_than_half"])]
    rows = rows.sort_values(["share", "position"], ascending=[False, True], ignore_index=True)
    return checked(rows, UnitMatterRow)


def _always(rows: pd.DataFrame) -> "pd.Series[bool]":
    known = ~rows["state"].isin(UNKNOWN)
    return (rows["state"] == "met") | ((rows["level"] == GRAVEST) & known)


@kept_on_data
def _listed(data: ReviewData) -> pd.DataFrame:
    """Return the rows that are no matter of the unit, with place, urgency, often and words."""
    rows = data.record_measures
    rows = rows[~rows["measure_id"].isin(data.left_to_unit["measure_id"])]
    often = unit_matters(data)["measure_id"]
    rows = rows[_always(rows) | ~rows["measure_id"].isin(often)].reset_index(drop=True)
    denominators = data.measures.set_index("measure_id")["denominator"]
    among = rows["measure_id"].map(denominators).astype(float)  # an empty column has no type
    rows["often"] = rows.groupby(["measure_id", "state"])["state"].transform("size") / among
    rows["place"] = rows["level"].map(_PLACE).astype("int64")
    rows["urgency"] = rows["state"].map(STATE_URGENCY)
    rows["words"] = [measure_words(row) for row in rows_of(rows, RecordMeasureRow)]
    late = rows["minutes"] - rows["due_minutes"]
    rows["minutes_late"] = late.where(rows["state"] == "late")
    return rows


@kept_on_data
def gravest(data: ReviewData) -> pd.DataFrame:
    """Return what should never happen and did, as the worklist shows it under *read now*.

    Columns: record_id, measure_id, state, words; one row per newborn (or item) and measure, in
    the order of the pages.
    """
    rows = _listed(data)
    rows = rows[rows["level"] == GRAVEST].sort_values(["position", "record_id", "item"])
    return checked(rows[list(columns_of(GravestRow))].reset_index(drop=True), GravestRow)


def serious_newborns(data: ReviewData) -> list[str]:
    """Return the newborns with a serious reason and none that is graver: whom a sample is of."""
    rows = _listed(data)
    tier = rows["level"].map(TIERS)
    others = set(rows.loc[tier == "read_now", "record_id"])
    return sorted(set(rows.loc[tier == "sample", "record_id"]) - others)


def sampled(unit: str, month: pd.Timestamp, record_ids: Iterable[str]) -> list[str]:
    """Return the sample: the same for everyone and on every day, whatever the order given.

    The order is that of the md5 of unit, month and study key: arbitrary, and open to be checked.
    """
    seed = f"{unit}|{month:%Y-%m}|"
    chosen = sorted(
        set(record_ids),
        key=lambda one: md5(f"{seed}{one}".encode(), usedforsecurity=False).hexdigest(),
    )
    return chosen[:SAMPLE]


def _reasons(data: ReviewData) -> pd.DataFrame:
    """Return one row per reason of every newborn: record_id, place, urgency, often, words, ..."""
    rows = _listed(data)
    names = ["record_id", "place", "urgency", "often", "words", "why", "measure_id"]
    flags = data.record_flags
    flagged = pd.DataFrame(
        {
            "record_id": flags["record_id"],
            "place": _FLAGGED,
            "words": [flag_words(row) for row in rows_of(flags, RecordFlagRow)],
        }
    )
    told = rows[~_told_before(rows)]
    every = pd.concat([told[[*names, "minutes_late"]], flagged], ignore_index=True)
    keys = ["record_id", "place", "urgency", "often"]
    return every.sort_values(keys, kind="stable", ignore_index=True)


def _told_before(rows: pd.DataFrame) -> "pd.Series[bool]":
    """Mark a reading that a graver measure of the same newborn tells already."""
    pairs = zip(rows["kind"], rows["state"], strict=True)
    is_reading = pd.Series([states_its_reading(*pair) for pair in pairs], index=rows.index)
    told = rows[is_reading.astype(bool) & rows["value"].notna()].sort_values("place", kind="stable")
    again = told.duplicated(["record_id", "value", "value_minutes"])
    return again.reindex(rows.index, fill_value=False)


def _look_at(data: ReviewData) -> dict[str, list[str]]:
    """Return measure -> what its file says to look at; nothing where file or store is silent."""
    if "look_at" not in data.measures:
        return {}
    pairs = zip(data.measures["measure_id"], data.measures["look_at"], strict=True)
    return {str(name): [str(text) for text in one] for name, one in pairs if one is not None}


def _record(rows: pd.DataFrame, tier: str, look_at: dict[str, list[str]]) -> RecordRow:
    """Put the reasons of one newborn together; ``rows`` come in order of gravity."""
    is_first = rows["place"] == rows["place"].min()
    first, late = rows[is_first], rows["minutes_late"].max()
    checks = [text for name in first["measure_id"] for text in look_at.get(str(name), [])]
    return RecordRow(
        record_id=str(rows["record_id"].iloc[0]),
        tier=tier,
        reasons=len(rows),
        what=told_once(list(first["words"])),
        why=list(dict.fromkeys(first["why"])),
        also=told_once(list(rows.loc[~is_first, "words"])),
        look_at=list(dict.fromkeys(checks)),
        minutes_late=None if pd.isna(late) else float(late),
    )


@kept_on_data
def records_to_read(data: ReviewData) -> pd.DataFrame:
    """Return one row per newborn whose record is read: all sentinels, then the sample.

    A newborn stands once, under its gravest reason. Of the sentinels first what is known, then
    what is rare in the month; the sample stands in its own order.
    """
    by_record = dict(list(_reasons(data).groupby("record_id")))
    now = set(gravest(data)["record_id"])
    # Of several grave reasons of one newborn the first decides.
    order = sorted((_rank(by_record[one]), one) for one in now)
    chosen = [(one, "read_now") for _, one in order]
    serious = serious_newborns(data)
    chosen += [(one, "sample") for one in sampled(data.unit, data.month, serious)]
    look_at = _look_at(data)
    rows = [_record(by_record[one], tier, look_at) for one, tier in chosen]
    frame = pd.DataFrame(rows, columns=COLUMNS)
    return checked(frame.astype({"record_id": "str", "tier": "str"}), RecordRow)


def _rank(rows: pd.DataFrame) -> tuple[float, float, int]:
    return float(rows["urgency"].iloc[0]), float(rows["often"].iloc[0]), -len(rows)


@kept_on_data
def counted(data: ReviewData) -> pd.DataFrame:
    """Return how many newborns each measure counts of what names no record, gravest first.

    The serious are among them, for only a sample of these is read; a newborn may count in
    several measures.
    """
    rows = _listed(data)
    rows = rows[rows["level"] != GRAVEST]
    keys = ["place", "position", "measure_id", "title", "level"]
    found = rows.groupby(keys)["record_id"].nunique().rename("newborns").reset_index()
    found = found.sort_values(
        ["place", "newborns", "position"], ascending=[True, False, True], ignore_index=True
    )
    return checked(found[list(columns_of(CountedRow))], CountedRow)
