"""What to bring to the team's next meeting: the month's facts, each with a question to ask.

Data of a review in, points in words out; nothing is decided here and no care is advised.
"""

from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.base.kept import kept_on_data
from pipelines.definitions.states import state_words
from pipelines.pages.review import first_screen as sentences
from pipelines.pages.review.frames import GravestRow, MeasureRow, UnitMatterRow
from pipelines.pages.review.harm import words as harm_words
from pipelines.pages.review.harm.sections import RARE
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.records import UNIT_SHARE, gravest, unit_matters
from pipelines.pages.review.sections import MEASURES, QUALITY, RECORDS, RESTATED, SIGNALS
from pipelines.pages.shell.markup import Part, measure_place, part
from pipelines.pages.shell.page import Section
from pipelines.reading import standing
from pipelines.reading.before_after import MOST_AFTER
from pipelines.reading.signals import NOT_MOVED
from pipelines.words import of_life, of_measures, of_numbers, of_signals, of_verdicts
from pipelines.words.of_silence import CAUTION, NOT_IN_EXPORT, SWITCH_OFF

MOST_OF_A_KIND: Final = 3  # points of one kind; a meeting is short
MOST_WITHOUT_HURRY: Final = 2  # of what got better, and of what is a matter for the unit
_STATE: Final = state_words("stacked")
EXPLAIN: Final = "Find out why it got worse, and write it into the unit's file."


@dataclass(frozen=True)
class Point:
    """One point for the meeting: a subject, the fact that carries it, a question, its place.

    ``sure``: how far luck explains it, ``step``: what comes next, where the first screen has it.
    ``about``: the measures that it names, in its order. ``unanswered``: those of them that a
    change made worse and nobody answered.
    """

    subject: str
    fact: str
    question: str
    place: str  # of the page, where more stands
    step: str = ""
    sure: str = ""
    about: tuple[str, ...] = ()
    unanswered: frozenset[str] = frozenset()


def points(data: ReviewData) -> list[Point]:
    """Return the points of one month, what asks for action first; empty in a quiet month."""
    return [
        *sentinel(data),
        *attention(data),
        *changes(data),
        *thinner(data),
        *left(data),
        *answered(data),
        *better(data),
        *documentation(data),
        *beside(data),
    ]


def beside(data: ReviewData) -> list[Point]:
    """Return the points that no first screen has: of the unit, of measures left out, the export."""
    return [*_unit(data), *_silent(data), *_export(data)]


def _rows(frame: pd.DataFrame, most: int = MOST_OF_A_KIND) -> list[MeasureRow]:
    return rows_of(frame.head(most), MeasureRow)


def sentinel(data: ReviewData) -> list[Point]:
    """Say what should never happen and did: of the records read now, and of no others."""
    found = gravest(data)
    if found.empty:
        return []
    newborns = found["record_id"].nunique()
    return [
        Point(
            "What should never happen",
            f"In {of_numbers.number_of(newborns, 'record')} of the month: {_kinds(data)}.",
            "Has each been read by someone, and reported where local policy asks?",
            RECORDS.id,
            "Read each of these records now.",
            about=tuple(found["measure_id"].unique()),
        )
    ]


def _kinds(data: ReviewData) -> str:
    """Name every measure that it was and in how many newborns; none hides behind "and more".

    Not documented is told apart: it is not the same as not done.
    """
    title = dict(
        zip(data.record_measures["measure_id"], data.record_measures["title"], strict=True)
    )
    states = dict[str, dict[str, set[str]]]()
    for row in rows_of(gravest(data), GravestRow):
        of = states.setdefault(title[row["measure_id"]], {})
        of.setdefault(_STATE.get(row["state"], ""), set()).add(row["record_id"])
    names = [f"{name} ({', '.join(_each(of))})" for name, of in states.items()]
    return of_numbers.listed(names, len(names))


def _each(of: dict[str, set[str]]) -> list[str]:
    return [f"{of_numbers.count(len(who))} {state}".strip() for state, who in of.items()]


def _luck(data: ReviewData) -> str:
    """Say how often luck alone would give a signal, in a nurse's words."""
    return of_signals.luck_words(sentences.compared(data))


def _how_sure(data: ReviewData, row: MeasureRow) -> str:
    """Say how far luck explains a row: of what moves now, or of a target that was missed.

    Of a signal that has ended nothing: how many there are now is no yardstick for it.
    """
    if row["change"] not in NOT_MOVED:
        return _luck(data)
    if row["life_by_sum"] and row["life_speaks"]:
        return harm_words.luck_words(data.harms, row["measure_id"])
    if row["target_state"] == standing.SHORT_BEYOND_CHANCE:
        span = of_numbers.interval(row["lower"], row["upper"])
        return f"Luck alone would put it anywhere from {span}, still on the wrong side."
    return ""


def _measure_point(data: ReviewData, row: MeasureRow, question: str, step: str) -> Point:
    title, sure = str(row["title"]), _how_sure(data, row)
    place = RARE.id if row["life_by_sum"] else measure_place(row["measure_id"])
    about = (str(row["measure_id"]),)
    moved = sentences.moved(data, row)
    if moved.startswith(title):  # the verdict on a change is a sentence of its own
        fact = f"{moved.removeprefix(title).strip()}. This month: {of_measures.reading(row)}."
        return Point(title, fact, question, place, step, sure, about)
    told = (of_measures.reading(row), moved, of_measures.target_sentence(row))
    fact = "; ".join(text for text in told if text)
    return Point(title, f"{fact}.", question, place, step, sure, about)


def attention(data: ReviewData) -> list[Point]:
    """Say of each measure that needs attention how it stands and moved, the gravest first."""
    question = "When and for whom does it happen, and what in the way we work stands behind it?"
    answer = " Who answers the signal: is it explained, or is it the new level?"
    steps = {
        True: "Find out why, and answer it in the unit's file.",
        False: "See when and for whom it was missed.",
    }
    return [
        _measure_point(
            data, row, question + (answer if row["is_urgent"] else ""), steps[row["is_urgent"]]
        )
        for row in _rows(sentences.urgent(data))
    ]


def answered(data: ReviewData) -> list[Point]:
    """Name what is worse and was answered: one point, however many; it stays to be seen."""
    rows = data.measures
    is_worse = (rows["change"] == "worse") | (rows["life_by_sum"] & rows["life_speaks"])
    known = rows_of(rows[is_worse & ~rows["is_urgent"]], MeasureRow)
    if not known:
        return []
    told = [f"{row['title']} ({of_life.short_words(row)})" for row in known]
    fact = f"{of_numbers.listed(told, MOST_OF_A_KIND)}."
    about = _named(known)
    question = "Does the answer still hold?"
    return [Point("Worse, and answered", fact, question, SIGNALS.id, about=about)]


def _named(rows: list[MeasureRow]) -> tuple[str, ...]:
    return tuple(str(row["measure_id"]) for row in rows[:MOST_OF_A_KIND])


@kept_on_data
def changes(data: ReviewData) -> list[Point]:
    """Say the verdict on each change whose months can still be weighed."""
    oldest = data.month - pd.DateOffset(months=MOST_AFTER)
    question = "Do we keep it as it is, and who answers what got worse?"
    weighed = [one for one in data.verdicts if one.main is not None and one.start_on > oldest]
    return [
        Point(
            f"Did it work: {one.title}",
            of_verdicts.whole(one),
            question,
            SIGNALS.id,
            EXPLAIN if one.unanswered else "Look again next month.",
            about=of_verdicts.told(one),
            unanswered=frozenset(each.measure_id for each in one.unanswered),
        )
        for one in weighed[:MOST_OF_A_KIND]
    ]


def left(data: ReviewData) -> list[Point]:
    """Name what got worse, ended and was never answered: one point, however many.

    Without what the point of a change says already: one line of the first screen is one matter.
    """
    told = frozenset[str]().union(*(one.unanswered for one in changes(data)))
    is_left = data.measures["is_left"] & ~data.measures["measure_id"].isin(told)
    rows = rows_of(data.measures[is_left], MeasureRow)
    if not rows:
        return []
    names = [f"{row['title']} ({of_life.short_words(row)})" for row in rows]
    subject = "Over, and never explained"
    fact = f"{of_numbers.listed(names, MOST_OF_A_KIND)}."
    question = "Does someone know what it was?"
    step, about = "Write what it was into the unit's file: one line settles it.", _named(rows)
    return [Point(subject, fact, question, SIGNALS.id, step, about=about)]


def _is_thinner(data: ReviewData) -> pd.Series:
    return data.measures["unknown_since"].notna()


def thinner(data: ReviewData) -> list[Point]:
    """Say of each measure that looks better while less is written down that it may be charting.

    Bands of one file read the same values, so that one of them, the plainest, speaks for all.
    """
    moved = sentences.strongest(data.measures[_is_thinner(data)])
    once = moved.sort_values("numerator", ascending=False, kind="stable")
    once = once.drop_duplicates(subset="parent_id")
    question = "Is it the care, or what is written down? Who reads ten records of those months?"
    step = "Read some of the records that lack it before anyone is told that it got better."
    return [
        Point(
            f"Better on paper: {row['title']}",
            f"{of_measures.reading(row)}; {sentences.moved(data, row)}. "
            f"{of_measures.thinner_sentence(row)}",
            question,
            measure_place(row["measure_id"]),
            step,
            about=(str(row["measure_id"]),),
        )
        for row in _rows(once)
    ]


def better(data: ReviewData) -> list[Point]:
    """Say of each measure that got better how it stands and moved, the strongest first."""
    moved = sentences.strongest(data.measures[~_is_thinner(data)])
    question = "What did we do differently, can it be kept, and did anything else get worse?"
    rows = _rows(moved[moved["change"] == "better"], MOST_WITHOUT_HURRY)
    step = "Tell the team, and keep what was done."
    return [_measure_point(data, row, question, step) for row in rows]


def documentation(data: ReviewData) -> list[Point]:
    """Name each measure whose target is met or missed by what was not written down."""
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
            "Find where it is written down.",
            about=(str(row["measure_id"]),),
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
            f"{of_measures.not_met(row).capitalize()} for {of_measures.missed(row)}: a matter for "
            "the unit, not for single records.",
            question,
            measure_place(row["measure_id"]),
        )
        for row in rows_of(often.head(MOST_WITHOUT_HURRY), UnitMatterRow)
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
