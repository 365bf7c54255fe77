"""The records someone may want to read: one row per newborn, all reasons together."""

from collections import Counter
from collections.abc import Sequence

import pandas as pd

from pipelines.base.frames import checked, columns_of, rows_of
from pipelines.base.kept import kept_on_data
from pipelines.definitions.states import SEVERITY_URGENCY, STATE_URGENCY
from pipelines.pages.review.frames import (
    RecordFlagRow,
    RecordMeasureRow,
    RecordRow,
    UnitMatterRow,
)
from pipelines.pages.review.read import ReviewData
from pipelines.reading.small_numbers import SMALL
from pipelines.words import of_states
from pipelines.words.of_numbers import column

# A measure that more than this share of its newborns miss says something about the unit, not
# about one record; listing them all would hide the others. Own choice, no published source.
UNIT_SHARE = 0.5
COLUMNS = list(columns_of(RecordRow))


def lateness(minutes: float | None, due: float | None, window: str) -> str:
    """Say when it was done and by how much it was late, or which window it missed.

    >>> lateness(84, 60, "")
    'at 84 min, 24 min late'
    >>> lateness(200, None, "up to 120 minutes")
    'at 200 min; window: up to 120 minutes'
    """
    if minutes is None:
        return ""
    if due is not None:
        return f"at {minutes:g} min, {minutes - due:g} min late"
    return f"at {minutes:g} min" + (f"; window: {window}" if window else "")


def _measure_words(row: RecordMeasureRow) -> str:
    text = row["title"]
    if row["state"] == "late":
        late = lateness(row["minutes"], row["due_minutes"], row["window_words"] or "")
        return f"{text} ({late})" if late else text
    if row["reason"] is not None:
        return f"{text} ({row['reason'].replace('_', ' ')})"
    return text


def _flag_words(row: RecordFlagRow) -> str:
    value = "" if row["recorded_value"] is None else " \N{LEFT DOUBLE QUOTATION MARK}"
    if value:
        value += f"{row['recorded_value']}\N{RIGHT DOUBLE QUOTATION MARK}"
    text = f"{row['table_name']}, {column(row['column_name'])}{value}: {row['explanation']}"
    if row["suggestion"] is None:
        return text
    return f"{text} Suggestion: {row['suggestion'].rstrip('.')}."


@kept_on_data
def unit_matters(data: ReviewData) -> pd.DataFrame:
    """Return the measures whose misses list no record of this month, the most missed first.

    Rows of ``data.measures`` with missed (rows that would have been listed), share (of the
    denominator) and because: ``listed`` (the measure or the unit's policy says so) or
    ``more_than_half`` (of at least 20). Harm is always listed, so only its unknowns count here.
    """
    quiet = data.record_measures[data.record_measures["state"] != "met"]
    missed = quiet.groupby("measure_id").size().rename("missed")
    rows = data.measures.merge(missed, on="measure_id")
    rows["share"] = rows["missed"] / rows["denominator"]
    said = data.left_to_unit.set_index("measure_id")["because"]
    rows["because"] = rows["measure_id"].map(said)
    often = (rows["share"] > UNIT_SHARE) & (rows["denominator"] >= SMALL)
    rows["because"] = rows["because"].mask(rows["because"].isna() & often, "more_than_half")
    rows = rows[rows["because"].isin(["listed", "more_than_half"])]
    rows = rows.sort_values(["share", "position"], ascending=[False, True], ignore_index=True)
    return checked(rows, UnitMatterRow)


def _listed(data: ReviewData) -> pd.DataFrame:
    """Return the measures' rows that put a record on the list, with their measure's rarity."""
    rows = data.record_measures
    rows = rows.reindex(columns=rows.columns.union(["due_minutes"]))
    rows = rows[~rows["measure_id"].isin(data.left_to_unit["measure_id"])]
    often = unit_matters(data)["measure_id"]
    rows = rows[(rows["state"] == "met") | ~rows["measure_id"].isin(often)].copy()
    denominators = data.measures.set_index("measure_id")["denominator"]
    among = rows["measure_id"].map(denominators).astype(float)  # an empty column has no type
    rows["often"] = rows.groupby(["measure_id", "state"])["state"].transform("size") / among
    return rows.reset_index(drop=True)


def _reasons(data: ReviewData) -> pd.DataFrame:
    """Return one row per reason: record_id, urgency, label, words, look_at, often."""
    measures = _listed(data)
    flags = data.record_flags
    late = measures["minutes"] - measures["due_minutes"]
    told = pd.DataFrame(
        {
            "record_id": measures["record_id"],
            "urgency": measures["state"].map(STATE_URGENCY),
            "label": measures["state"].map(of_states.STATE_WORDS),
            "words": [_measure_words(row) for row in rows_of(measures, RecordMeasureRow)],
            "look_at": _look_at(data, measures["measure_id"]),
            "minutes_late": late.where(measures["state"] == "late"),
            "often": measures["often"],
        }
    )
    flagged = pd.DataFrame(
        {
            "record_id": flags["record_id"],
            "urgency": flags["severity"].map(SEVERITY_URGENCY),
            "label": "Value " + flags["severity"].map(of_states.SEVERITY_WORDS),
            "words": [_flag_words(row) for row in rows_of(flags, RecordFlagRow)],
            "look_at": [
                [f"{table}: {column(str(name))}"]
                for table, name in zip(flags["table_name"], flags["column_name"], strict=True)
            ],
            "minutes_late": float("nan"),
            "often": 0.0,
        }
    )
    return pd.concat([told, flagged], ignore_index=True)


def _look_at(data: ReviewData, measure_ids: pd.Series) -> list[list[str]]:
    """Return what each measure's file says to look at; nothing where file or store is silent."""
    if "look_at" not in data.measures:
        return [[] for _ in measure_ids]
    told = dict(zip(data.measures["measure_id"], data.measures["look_at"], strict=True))
    found = (told.get(name) for name in measure_ids)
    return [[] if one is None else [str(text) for text in one] for one in found]


def _once(lists: pd.Series) -> list[str]:
    return list(dict.fromkeys(text for one in lists for text in one))


def told_once(words: Sequence[str]) -> list[str]:
    """Say what several observations of one newborn have in common once, with how often.

    >>> told_once(["a", "b", "a"])
    ['a (2 times)', 'b']
    """
    return [
        f"{text} ({number} times)" if number > 1 else text
        for text, number in Counter(words).items()
    ]


@kept_on_data
def records_to_read(data: ReviewData) -> pd.DataFrame:
    """Return one row per newborn worth reading, most urgent first, then what is rare.

    Columns: record_id, urgency (0 first), reasons (how many), lines: a list of
    (label, list of words), in order of urgency, look_at: what to check in the record, each
    once, minutes_late: the largest of the late items, missing where none is late.
    """
    reasons = _reasons(data)
    if reasons.empty:
        return pd.DataFrame(columns=COLUMNS)
    keys = ["record_id", "urgency", "label"]
    lines = reasons.groupby(keys, sort=True)["words"].agg(list).reset_index()
    lines["reasons"] = lines["words"].map(len)
    said_once = [told_once(words) for words in lines["words"]]
    lines["line"] = pd.Series(list(zip(lines["label"], said_once, strict=True)), index=lines.index)
    records = (
        lines.groupby("record_id")
        .agg(urgency=("urgency", "min"), reasons=("reasons", "sum"), lines=("line", list))
        .reset_index()
    )
    ordered = reasons.sort_values("urgency", kind="stable").groupby("record_id")
    records = records.join(ordered["look_at"].agg(_once), on="record_id")
    records = records.join(ordered["minutes_late"].max(), on="record_id")
    first = reasons.merge(records[["record_id", "urgency"]], on=["record_id", "urgency"])
    records = records.join(first.groupby("record_id")["often"].min(), on="record_id")
    order = ["urgency", "often", "reasons", "record_id"]
    records = records.sort_values(order, ascending=[True, True, False, True], ignore_index=True)
    return checked(records[COLUMNS], RecordRow)
