"""The records to look at, as a section: read now, read a sample, counted only, what came back."""

from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.gravity import LEVEL_MEANING, LEVEL_WORDS, LEVELS
from pipelines.definitions.worklist import OUTCOMES, READ_NOW
from pipelines.pages.review.frames import (
    BornRow,
    CountedRow,
    RecordRow,
    UnitMatterRow,
    WorklistReadRow,
    WorklistRejectedRow,
    WorklistSettingRow,
)
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.reason_words import born_words
from pipelines.pages.review.records import (
    counted,
    records_to_read,
    serious_newborns,
    unit_matters,
)
from pipelines.pages.shell.markup import Part, part
from pipelines.words import of_measures, of_numbers

NOT_APPROVED: Final = "defaults; no one in the unit has approved them yet"


def born(data: ReviewData) -> dict[str, str]:
    """Return study key -> when the newborn was born: month, shift, running order in the month."""
    month = of_numbers.month_name(data.month)
    return {row["record_id"]: born_words(month, row) for row in rows_of(data.born, BornRow)}


def _setting(data: ReviewData) -> WorklistSettingRow:
    return rows_of(data.worklist_setting, WorklistSettingRow)[0]


def find_chart(data: ReviewData) -> str:
    """Return how a chart is found with the study key: the unit's sentence, or the shipped one."""
    return _setting(data)["find_chart"] or ""


def approved_words(data: ReviewData) -> str:
    """Say who approved how grave each miss is and when, or that nobody has."""
    setting = _setting(data)
    by, on = setting["approved_by"], setting["approved_on"]
    if by is None or on is None:
        return f"How grave each miss is: {NOT_APPROVED}."
    return f"How grave each miss is: approved on {on.day} {on:%B %Y} by the {by}."


def read_words(data: ReviewData) -> list[str]:
    """Say what came back of the worklists of this month and the one before, one line a month.

    "April 2026: read 9 of 10; 6 were as recorded, 2 were charting, 1 was reported."
    """
    rows = rows_of(data.worklist_read, WorklistReadRow)
    months = dict.fromkeys(row["month"] for row in rows)
    return [_month_read(month, [row for row in rows if row["month"] == month]) for month in months]


def _month_read(month: pd.Timestamp, rows: list[WorklistReadRow]) -> str:
    found = {row["outcome"]: row["newborns"] for row in rows}
    every = sum(found.values())
    read = every - found.get(None, 0)
    told = ", ".join(
        f"{of_numbers.count(found[name])} {one if found[name] == 1 else many}"
        for name, (one, many) in OUTCOMES.items()
        if name in found
    )
    text = f"{of_numbers.month_name(month)}: read {of_numbers.count(read)} of "
    return f"{text}{of_numbers.count(every)}; {told}." if told else f"{text}{every}."


def now_count(data: ReviewData, number: int) -> str:
    """Say how many records are read now."""
    month = of_numbers.month_name(data.month)
    if not number:
        return f"Nothing that should never happen stands in the records of {month}."
    # Not "of newborns": stillbirths have a record too, and no more newborns than births are named.
    return (
        f"{of_numbers.count(number)} of {of_numbers.number_of(data.newborns, 'record')} of {month} "
        f"{'has' if number == 1 else 'have'} something that should never happen."
    )


def now_words(data: ReviewData, number: int) -> str:
    """Say how many records are read now, and that more than a few are shown all the same."""
    text = now_count(data, number)
    if not number:
        return text
    if number > READ_NOW:
        return (
            f"{text} That is more than {READ_NOW}, and all of them are shown: look first whether "
            "it is the records or the way they are written."
        )
    return f"{text} {'It' if number == 1 else 'Each'} is read by a person."


def sample_words(sampled: int, serious: int) -> str:
    """Say what the sample is of, and that it is the same for everyone."""
    if not serious:
        return "No further record of the month has a serious reason."
    of = of_numbers.number_of(serious, "further record")
    if sampled == serious:
        return f"{of} with a serious reason: few enough to read {'it' if serious == 1 else 'all'}."
    return (
        f"{of_numbers.count(sampled)} of {of} with a serious reason, drawn by lot: the same ones "
        "for everyone who opens this month."
    )


def _counted_lines(data: ReviewData) -> list[dict[str, Any]]:
    return [
        {
            "title": row["title"],
            "newborns": row["newborns"],
            "level": LEVEL_WORDS[row["level"]],
        }
        for row in rows_of(counted(data), CountedRow)
    ]


def flag_sentence(data: ReviewData) -> str:
    """Say how many values are flagged; they are read on the data quality page, not here."""
    flags = data.record_flags
    if flags.empty:
        return ""
    newborns = of_numbers.number_of(flags["record_id"].nunique(), "newborn")
    values = of_numbers.number_of(len(flags), "value")
    return (
        f"{values} of {newborns} cannot be right or {'is' if len(flags) == 1 else 'are'} unlikely"
    )


def record_list(data: ReviewData) -> Part:
    """Return the worklist for the ward in its three tiers, and what came back of it."""
    records = rows_of(records_to_read(data), RecordRow)
    now = [row for row in records if row["tier"] == "read_now"]
    sample = [row for row in records if row["tier"] == "sample"]
    rejected = rows_of(data.worklist_rejected, WorklistRejectedRow)
    return part(
        "pages/review/records",
        now=now,
        sample=sample,
        now_words=now_words(data, len(now)),
        sample_words=sample_words(len(sample), len(serious_newborns(data))),
        born=born(data),
        find_chart=find_chart(data),
        approved=approved_words(data),
        read=read_words(data),
        rejected=[
            f"{row['file_name']} line {row['file_line']}: {row['rejected']}" for row in rejected
        ],
        levels=[(LEVEL_WORDS[level], LEVEL_MEANING[level]) for level in LEVELS],
        counted=_counted_lines(data),
        flags=flag_sentence(data),
        outcomes=list(OUTCOMES),
        matters=[
            (
                row["title"],
                f"{of_measures.missed(row)} {of_measures.not_met(row)}",
                row["because"] == "more_than_half",
            )
            for row in rows_of(unit_matters(data), UnitMatterRow)
        ],
    )


def records_link(data: ReviewData) -> str:
    """Return how the menu names the section: how many records are read now."""
    number = int((records_to_read(data)["tier"] == "read_now").sum())
    return f"{of_numbers.number_of(number, 'record')} to read now"
