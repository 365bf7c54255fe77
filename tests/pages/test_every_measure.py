"""Each kind of page with every measure of the project: all charts drawn, few sheets of paper."""

from collections.abc import Callable
from typing import NamedTuple

import pytest

from .visit import MM_PER_INCH, SHEETS, Visit

pytestmark = pytest.mark.browser
Visited = Callable[[str, int], Visit]


class Kind(NamedTuple):
    """A kind of page: how many charts at least, and how many sheets it may take.

    The sheets are our own bound: what is read at a meeting, so that a block which starts to be
    printed, or stops, is noticed.
    """

    charts: int
    sheets: tuple[int, int]


KINDS = {
    "whole_review": Kind(41, (6, 12)),
    "whole_quality": Kind(3, (5, 10)),
    "whole_fair": Kind(41, (4, 9)),
}
of_each_kind = pytest.mark.parametrize("page_name", KINDS)
on_both_sheets = pytest.mark.parametrize("sheet", SHEETS)


@of_each_kind
def test_no_chart_fails(visited: Visited, page_name: str) -> None:
    visit = visited(page_name, 1280)
    assert len(visit.charts) >= KINDS[page_name].charts
    assert {one["drawn"] for one in visit.charts} == {"yes"}
    assert visit.console == []


@of_each_kind
@pytest.mark.parametrize("width", [1280, 390])
def test_no_text_of_a_picture_touches_another(visited: Visited, page_name: str, width: int) -> None:
    visit = visited(page_name, width)
    assert visit.crowded == []
    assert visit.charts


@of_each_kind
@on_both_sheets
def test_it_takes_few_sheets(visited: Visited, page_name: str, sheet: str) -> None:
    paper = visited(page_name, 1280).sheets[sheet]
    assert paper.width_pt == pytest.approx(SHEETS[sheet][0] / MM_PER_INCH * 72, abs=1)
    least, most = KINDS[page_name].sheets
    assert least <= paper.number <= most


# A released page says something of each of 72 results (it took 9 sheets with 48 of them).
@pytest.mark.parametrize(("page_name", "most"), [("released", 12), ("change_study", 8)])
@on_both_sheets
def test_a_released_page_and_a_change_fit_a_folder(
    visited: Visited, page_name: str, most: int, sheet: str
) -> None:
    assert 2 <= visited(page_name, 1280).sheets[sheet].number <= most
