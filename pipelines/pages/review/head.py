"""The head of a review: at most five ranked lines, and what is new since the last review."""

from collections.abc import Sequence
from typing import Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.base.kept import kept_on_data
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
_GRAVE: Final = 2  # places up to serious


def lines(data: ReviewData) -> list[Line]:
    """Return the lines of the first screen, the gravest first; the last says what to trust.

    They are the first points for the meeting, so that both say the same.
    """
    shown = [_line(one) for one in ranked(data)[: LINES - 1]]
    return [*shown, Line("Can the figures be trusted", sentences.trust(data), QUALITY.id)]


@kept_on_data
def ranked(data: ReviewData) -> list[Point]:
    """Return the points from which the lines are taken, the gravest first.

    Where nothing asks for attention, the weakest and the best stand in their place.
    """
    changes = discuss.changes(data)
    harms = _harms(changes)
    urgent = [*discuss.sentinel(data), *harms, *_attention(data, harms)]
    urgent += [*discuss.thinner(data), *discuss.left(data)]
    rest = [one for one in changes if not one.unanswered]
    rest += [*discuss.answered(data), *discuss.documentation(data), *discuss.better(data)]
    if not urgent:
        rest = [*_quiet(data), *rest]
    return [*urgent, *rest]


def _line(point: Point) -> Line:
    return Line(point.subject, point.fact, point.place, point.sure, point.step)


def _harms(changes: Sequence[Point]) -> list[Point]:
    """Return the changes that made something worse: did it work and did it harm, in one line.

    What two changes could have made worse is told once, of the earlier.
    """
    kept, told = list[Point](), frozenset[str]()
    for one in reversed(changes):
        if one.unanswered - told:
            kept.append(one)
            told |= one.unanswered
    return [one for one in changes if one in kept]


def _attention(data: ReviewData, harms: Sequence[Point]) -> list[Point]:
    """Return what needs attention and does not stand in the line of a change already."""
    told = frozenset[str]().union(*(one.unanswered.intersection(one.about) for one in harms))
    return [one for one in discuss.attention(data) if not told.issuperset(one.about)]


def _quiet(data: ReviewData) -> list[Point]:
    """Name the two weakest and the two best measures of a month in which nothing is wrong."""
    rows = data.measures
    rows = rows[(rows["direction"] != "neither") & (rows["counted"] >= SMALL)]
    if len(rows) < 2 * _EACH:
        return []
    missed = rows["rate"].where(rows["direction"] == "lower", 1 - rows["rate"])
    by_gravity = rows.assign(missed=missed).sort_values("gravity_place", kind="stable")
    grave = by_gravity[by_gravity["gravity_place"] <= _GRAVE]
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
            about=tuple(order["measure_id"].head(_EACH)),
        ),
        Point(
            "Best",
            _told(best),
            "",
            MEASURES.id,
            "Tell the team: it is news too.",
            about=tuple(best["measure_id"]),
        ),
    ]


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
