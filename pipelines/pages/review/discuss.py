"""What to bring to the team's next meeting: the month's facts, each with a question to ask.

Data of a review in, points in words out; nothing is decided here and no care is advised.
"""

from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.pages.review import first_screen as sentences
from pipelines.pages.review.frames import GravestRow, MeasureRow, UnitMatterRow
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.records import UNIT_SHARE, gravest, unit_matters
from pipelines.pages.review.sections import MEASURES, QUALITY, RECORDS, RESTATED, SIGNALS
from pipelines.pages.shell.markup import Part, measure_place, part
from pipelines.pages.shell.page import Section
from pipelines.reading import standing
from pipelines.reading.before_after import MOST_AFTER
from pipelines.words import of_life, of_measures, of_numbers, of_verdicts
from pipelines.words.of_silence import CAUTION, NOT_IN_EXPORT, SWITCH_OFF

MOST_OF_A_KIND: Final = 3  # points of one kind; a meeting is short


@dataclass(frozen=True)
class Point:
    """One point for the meeting: a subject, the fact that carries it, a question, its place."""

    subject: str
    fact: str
    question: str
    place: str  # of the page, where more stands


def points(data: ReviewData) -> list[Point]:
    """Return the points of one month, what asks for action first; empty in a quiet month."""
    return [
        *_sentinel(data),
        *_attention(data),
        *_changes(data),
        *_left(data),
        *_better(data),
        *_documentation(data),
        *_unit(data),
        *_silent(data),
        *_export(data),
    ]


def _rows(frame: pd.DataFrame) -> list[MeasureRow]:
    return rows_of(frame.head(MOST_OF_A_KIND), MeasureRow)


def _sentinel(data: ReviewData) -> list[Point]:
    """Say what should never happen and did: of the records read now, and of no others."""
    found = gravest(data)
    if found.empty:
        return []
    newborns = found["record_id"].nunique()
    return [
        Point(
            "What should not happen, and did",
            f"In {of_numbers.number_of(newborns, 'record')} of the month: {_kinds(data)}.",
            "Has each been read by someone, and reported where local policy asks?",
            RECORDS.id,
        )
    ]


def _kinds(data: ReviewData) -> str:
    """Name every measure that it was and in how many newborns; none hides behind "and more"."""
    title = dict(
        zip(data.record_measures["measure_id"], data.record_measures["title"], strict=True)
    )
    newborns = dict[str, set[str]]()
    for row in rows_of(gravest(data), GravestRow):
        newborns.setdefault(title[row["measure_id"]], set()).add(row["record_id"])
    names = [f"{name} ({of_numbers.count(len(of))})" for name, of in newborns.items()]
    return of_numbers.listed(names, len(names))


def _measure_point(data: ReviewData, row: MeasureRow, question: str) -> Point:
    moved = sentences.moved(data, row)
    if moved.startswith(str(row["title"])):  # the verdict on a change is a sentence of its own
        fact = f"{moved}. This month: {of_measures.reading(row)}."
        return Point(str(row["title"]), fact, question, measure_place(row["measure_id"]))
    told = (of_measures.reading(row), moved, of_measures.target_sentence(row))
    fact = "; ".join(text for text in told if text)
    return Point(str(row["title"]), f"{fact}.", question, measure_place(row["measure_id"]))


def _attention(data: ReviewData) -> list[Point]:
    question = "When and for whom does it happen, and what in the way we work stands behind it?"
    answer = " Who answers the signal: is it explained, or is it the new level?"
    return [
        _measure_point(data, row, question + (answer if row["is_urgent"] else ""))
        for row in _rows(sentences.urgent(data))
    ]


def _changes(data: ReviewData) -> list[Point]:
    """Say the verdict on each change whose months can still be weighed."""
    oldest = data.month - pd.DateOffset(months=MOST_AFTER)
    question = "Do we keep it as it is, and who answers what got worse?"
    return [
        Point(f"Did it work: {one.title}", of_verdicts.whole(one), question, SIGNALS.id)
        for one in data.verdicts
        if one.main is not None and one.start_on > oldest
    ][:MOST_OF_A_KIND]


def _left(data: ReviewData) -> list[Point]:
    """Name what got worse, ended and was never answered: one point, however many."""
    rows = rows_of(data.measures[data.measures["is_left"]], MeasureRow)
    if not rows:
        return []
    told = [f"{row['title']} ({of_life.short_words(row)})" for row in rows]
    subject = "Ended, and nobody answered"
    fact = f"{of_numbers.listed(told, MOST_OF_A_KIND)}."
    question = "Does someone know what it was? One line in the unit's file settles it."
    return [Point(subject, fact, question, SIGNALS.id)]


def _better(data: ReviewData) -> list[Point]:
    moved = sentences.strongest(data.measures)
    question = "What did we do differently, can it be kept, and did anything else get worse?"
    better = _rows(moved[moved["change"] == "better"])
    return [_measure_point(data, row, question) for row in better]


def _documentation(data: ReviewData) -> list[Point]:
    unsure = data.measures[data.measures["target_state"] == standing.UNSURE]
    question = "Where is it written down, and why does it not reach the export?"
    return [
        Point(
            str(row["title"]),
            f"{of_numbers.count(row['not_documented'] + row['unusable'])} {of_numbers.noun(row)} "
            "without a usable record decide whether the target of "
            f"{of_numbers.percent(row['target'])} is met.",
            question,
            measure_place(row["measure_id"]),
        )
        for row in _rows(unsure)
    ]


def _unit(data: ReviewData) -> list[Point]:
    often = unit_matters(data)
    often = often[often["share"] > UNIT_SHARE]
    question = "Is it how we work, or how we write it down? Does the measure fit local policy?"
    return [
        Point(
            str(row["title"]),
            f"Not met for {of_measures.missed(row)}: a matter for the unit, not for single "
            "records.",
            question,
            measure_place(row["measure_id"]),
        )
        for row in rows_of(often.head(MOST_OF_A_KIND), UnitMatterRow)
    ]


def _silent(data: ReviewData) -> list[Point]:
    """Name the measures the whole export says nothing of: one point, however many."""
    silent = data.measures[data.measures["is_silent"]]
    if silent.empty:
        return []
    names = of_numbers.listed([str(title) for title in silent["title"]], MOST_OF_A_KIND)
    return [
        Point(
            "Not in the export",
            f"{of_numbers.number_of(len(silent), 'measure')} {NOT_IN_EXPORT}: {names}.",
            f"Is it written down elsewhere, and can it be exported? {CAUTION} Switch a measure off "
            f"{SWITCH_OFF}.",
            MEASURES.id,
        )
    ]


def _export(data: ReviewData) -> list[Point]:
    changed = sentences.last_restated(data)
    found = []
    if len(data.unjudged):
        found.append(f"{of_numbers.number_of(len(data.unjudged), 'check')} could not be judged")
    if len(changed):
        found.append(
            f"{of_numbers.number_of(len(changed), 'earlier number')} changed since last time"
        )
    if not found:
        return []
    place = QUALITY.id if len(data.unjudged) else RESTATED.id
    question = "Who can tell what changed in the export, and are those figures known elsewhere?"
    return [Point("The export", f"{' and '.join(found)}.".capitalize(), question, place)]


def discuss(data: ReviewData) -> Part:
    """Return the points for the team's next meeting, each with a question."""
    return part("pages/review/discuss", points=points(data))


DISCUSS: Final = Section("discuss", "What to discuss", (discuss,))
