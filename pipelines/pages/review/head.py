"""The head of a review: at most five ranked lines, and what is new since the last review."""

from typing import Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.pages.review import discuss
from pipelines.pages.review import first_screen as sentences
from pipelines.pages.review.discuss import Point
from pipelines.pages.review.frames import MeasureRow, SinceRow
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.sections import MEASURES, QUALITY, SIGNALS
from pipelines.pages.review.signal_life import NEWS, since_last_review
from pipelines.pages.shell.page import Head, Line
from pipelines.reading.small_numbers import SMALL
from pipelines.words import caution, of_measures, of_numbers

LINES: Final = 5
_EACH: Final = 2  # of the weakest and of the best of a quiet month


def lines(data: ReviewData) -> list[Line]:
    """Return the lines of the first screen, the gravest first; the last says what to trust.

    They are the first points for the meeting, so that both say the same. Where nothing asks for
    attention, the weakest and the best stand in their place.
    """
    urgent = [*discuss.sentinel(data), *_harms(data), *_attention(data), *discuss.left(data)]
    rest = [*_other_changes(data), *discuss.answered(data), *discuss.documentation(data)]
    rest += discuss.better(data)
    if not urgent:
        rest = [*_quiet(data), *rest]
    shown = [_line(one) for one in [*urgent, *rest][: LINES - 1]]
    return [*shown, Line("Can the figures be trusted", sentences.trust(data), QUALITY.id)]


def _line(point: Point) -> Line:
    return Line(point.subject, point.fact, point.place, point.sure, point.step)


def _unanswered(data: ReviewData) -> set[str]:
    """Return the titles of the changes that made something worse and were not answered.

    What two changes could have made worse is told once, of the earlier.
    """
    titles, told = set[str](), set[str]()
    for one in reversed(data.verdicts):
        worse = {each.measure_id for each in one.unanswered}
        if worse - told:
            titles.add(one.title)
            told |= worse
    return titles


def _is_of(point: Point, titles: set[str]) -> bool:
    return any(point.subject.endswith(f": {title}") for title in titles)


def _harms(data: ReviewData) -> list[Point]:
    """Return the changes that made something worse: did it work and did it harm, in one line."""
    titles = _unanswered(data)
    return [one for one in discuss.changes(data) if _is_of(one, titles)]


def _attention(data: ReviewData) -> list[Point]:
    """Return what needs attention and does not stand in the line of a change already."""
    told = " ".join(one.fact for one in _harms(data))
    return [
        one
        for one in discuss.attention(data)
        if f"{one.subject} {one.fact.split('. This month:')[0]}" not in told
    ]


def _other_changes(data: ReviewData) -> list[Point]:
    harmful = {one.title for one in data.verdicts if one.unanswered}
    return [one for one in discuss.changes(data) if not _is_of(one, harmful)]


def _quiet(data: ReviewData) -> list[Point]:
    """Name the two weakest and the two best measures of a month in which nothing is wrong."""
    rows = data.measures
    rows = rows[(rows["direction"] != "neither") & (rows["counted"] >= SMALL)]
    if len(rows) < 2 * _EACH:
        return []
    missed = rows["rate"].where(rows["direction"] == "lower", 1 - rows["rate"])
    by_gravity = rows.assign(missed=missed).sort_values("gravity_place", kind="stable")
    grave = by_gravity[by_gravity["gravity_place"] <= GRAVE]
    chosen = grave if len(grave) >= 2 * _EACH else by_gravity
    order = chosen.sort_values("missed", ascending=False, kind="stable")
    best = chosen.sort_values(["missed", "gravity_place"], kind="stable").head(_EACH)
    return [
        Point(
            "Nothing is out of order; weakest",
            _told(order.head(_EACH)),
            "",
            MEASURES.id,
            "Choose one to work on.",
        ),
        Point("Best", _told(best), "", MEASURES.id, "Tell the team: it is news too."),
    ]


GRAVE: Final = 2  # up to serious


def _told(rows: pd.DataFrame) -> str:
    told = [f"{row['title']}: {of_measures.reading(row)}" for row in rows_of(rows, MeasureRow)]
    return f"{'; '.join(told)}."


def since(data: ReviewData) -> tuple[str, str]:
    """Say what is new of signals since the review of the month before, and where it stands."""
    rows = rows_of(since_last_review(data), SinceRow)
    before = of_numbers.month_name(data.month - pd.DateOffset(months=1))
    told = []
    for kind in NEWS:
        names = [f"{row['title']} ({row['words']})" for row in rows if row["news"] == kind]
        if names:
            told.append(f"{kind}: {of_numbers.listed(names, 3)}")
    words = "; ".join(told) if told else "no signal is new, open or settled"
    return f"Since the review of {before}: {words}.", SIGNALS.id


def head(data: ReviewData) -> Head:
    """Return line 1, the ranked lines, and what is new since the last review."""
    births = of_numbers.number_of(data.births, "birth")
    stillbirths = data.newborns - data.births
    if stillbirths:
        births += f" and {of_numbers.number_of(stillbirths, 'stillbirth')}"
    return Head(
        title=data.title,
        when=of_numbers.month_name(data.month),
        remark=f"{births}. {caution.PAGE_KIND}.",
        lines=lines(data),
        since=since(data),
    )
