"""How much fits on the two sheets: how many charts, records, and points beside the first lines.

What a browser makes of a text is known only once it is printed. So the height of each block is
reckoned from its letters, a little too high, and what does not fit is left in the review, which
the sheet says. Heights are CSS px, as page.css has them on paper; own measurements.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final, TypeVar

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.pages.review.discuss import Point
from pipelines.pages.review.frames import MeasureRow, RecordRow
from pipelines.pages.review.leading import signals_of
from pipelines.pages.shell.page import Line

SHEET_PX: Final = 992  # A4 less its margins is 1005
MOST_RECORDS: Final = 10
MOST_POINTS: Final = 8
MOST_CHARTS: Final = 4  # two by two fill the greater part of a sheet
_TEXT: Final = (14.9, 110)  # height of a line, letters in it
_SMALL: Final = (13.6, 118)
_TITLE: Final = (13.6, 24)  # of a measure, in the first table
_SIGNAL: Final = (13.6, 27)
_WHAT: Final = (13.6, 37)  # of a record; the columns have widths of their own on paper
_CHECK: Final = (13.6, 30)
_PANEL: Final = (15.8, 38)  # its title
_FINDING: Final = (13.6, 58)
_HEAD_PX: Final = 56
_HEADING_PX: Final = 28
_TABLE_PX: Final = 100  # what stands above its rows
_CHART_PX: Final = 284
_BELOW_PX: Final = 88  # the words above the records, their heads, and the last line
T = TypeVar("T")


def _tall(text: str, size: tuple[float, int]) -> float:
    height, letters = size
    return height * ceil(len(text) / letters)


def fitting(things: Sequence[T], height: Callable[[T], float], room: float, most: int) -> int:
    """Return how many of the things fit one below the other.

    >>> fitting(["a", "b", "c"], lambda _: 2.0, 5.0, most=8)
    2
    """
    used, number = 0.0, 0
    for one in things[:most]:
        used += height(one)
        if used > room:
            break
        number += 1
    return number


@dataclass(frozen=True)
class Second:
    """The second sheet: how many charts and records stand on it, and the room that is left."""

    charts: int
    records: int
    left_px: float


def left_on_first(
    lines: Iterable[tuple[Line, str]], since: tuple[str, str] | None, leading: pd.DataFrame
) -> float:
    """Return the room that is left on the first sheet; below zero where it is too full."""
    told = sum(_line(*one) for one in lines) + _tall(since[0] if since else "", _SMALL)
    table = _TABLE_PX + sum(_table_row(row) for row in rows_of(leading, MeasureRow))
    return SHEET_PX - (_HEAD_PX + told + _HEADING_PX + table)


def points(further: Sequence[Point], left: float) -> int:
    """Return how many further points fit under their heading into the room that is left."""
    return fitting(further, _point, left - _HEADING_PX, MOST_POINTS)


def second_sheet(now: Sequence[RecordRow], panels: Sequence[tuple[str, str]]) -> Second:
    """Return what stands on the second sheet: what must be read now goes before charts.

    ``panels``: title and finding of each chart there is.
    """
    wanted = min(len(now), MOST_RECORDS)
    for charts in range(MOST_CHARTS, 0, -2):
        heights = [_panel(*one) for one in panels[:charts]]
        rows = [max(heights[place : place + 2]) for place in range(0, len(heights), 2)]
        used = sum(rows) + _HEADING_PX + _BELOW_PX
        shown = fitting(now, _record, SHEET_PX - used, MOST_RECORDS)
        if shown == wanted:
            break
    left = SHEET_PX - used - sum(_record(one) for one in now[:shown])
    return Second(charts, shown, left)


def _panel(title: str, finding: str) -> float:
    return _CHART_PX + _tall(title, _PANEL) + _tall(finding, _FINDING)


def _line(line: Line, question: str) -> float:
    told = _tall(f"{line.subject}: {line.fact} {line.sure}", _TEXT)
    return 6 + told + _tall(f"{line.step} {question}".strip(), _SMALL)


def _table_row(row: MeasureRow) -> float:
    signals = sum(_tall(words, _SIGNAL) for _, _, words in signals_of(row))
    return 4 + max(_tall(row["title"], _TITLE), signals)


def _point(one: Point) -> float:
    return 4 + _tall(f"{one.subject}: {one.fact} {one.question}", _SMALL)


def _record(one: RecordRow) -> float:
    what = sum(_tall(words, _WHAT) for words in one["what"])
    return 5 + max(3 * _SMALL[0], what, _tall("; ".join(one["look_at"]), _CHECK))
