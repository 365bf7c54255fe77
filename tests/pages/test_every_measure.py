"""Each kind of page with every measure of the project: all charts drawn, few sheets of paper."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from pipelines.pages.fair.page import render_fair_care
from pipelines.pages.quality.page import render_quality
from pipelines.pages.review.page import render_review
from tests.conftest import Built

from .test_browser import open_page
from .test_print import MM_PER_INCH, SHEETS, paper, printed

# Texts of one picture that touch, or that leave it; a text drawn twice is its halo.
CROWDED = """
const open = document.querySelectorAll('details');
open.forEach((one) => { one.open = true; });
const found = [];
for (const svg of document.querySelectorAll('.chart svg')) {
  const box = svg.getBoundingClientRect();
  const texts = [...svg.querySelectorAll('text')]
    .map((one) => ({ words: one.textContent.trim(), at: one.getBoundingClientRect() }))
    .filter((one) => one.words && one.at.width);
  for (const [place, { words, at }] of texts.entries()) {
    if (at.left < box.left - 1 || at.right > box.right + 1) found.push([words, 'leaves']);
    for (const other of texts.slice(place + 1)) {
      const wide = Math.min(at.right, other.at.right) - Math.max(at.left, other.at.left);
      const high = Math.min(at.bottom, other.at.bottom) - Math.max(at.top, other.at.top);
      if (wide > 2 && high > 4 && words !== other.words) found.push([words, other.words]);
    }
  }
}
return found;
"""
__all__ = ["paper"]
pytestmark = [pytest.mark.browser, pytest.mark.slow]


class Kind(NamedTuple):
    """A kind of page: who writes it, how many charts at least, and how many sheets it may take.

    The sheets are our own bound: what is read at a meeting, so that a block which starts to be
    printed, or stops, is noticed.
    """

    render: Callable[[Path, Path], Path]
    charts: int
    sheets: tuple[int, int]


KINDS = {
    "review": Kind(lambda store, out: render_review(store, "quillmere", None, out), 41, (6, 12)),
    "quality": Kind(lambda store, out: render_quality(store, "quillmere", out), 3, (5, 10)),
    "fair": Kind(lambda store, out: render_fair_care(store, "quillmere", out), 41, (4, 8)),
}


@pytest.fixture(scope="module", params=KINDS)
def whole(
    request: pytest.FixtureRequest, clean: Built, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Kind, Path]:
    """Return a kind of page, and the page of a store with every measure."""
    kind = KINDS[request.param]
    return kind, kind.render(clean.store, tmp_path_factory.mktemp("whole") / "page.html")


def test_no_chart_fails(paper: Any, whole: tuple[Kind, Path]) -> None:
    kind, page = whole
    paper.get_log("browser")
    open_page(paper, page, 1280)
    states = paper.execute_script(
        "return [...document.querySelectorAll('.chart')].map((box) => box.dataset.drawn)"
    )
    assert len(states) >= kind.charts
    assert set(states) == {"yes"}
    assert paper.get_log("browser") == []


@pytest.mark.parametrize("width", [1280, 390])
def test_no_text_of_a_picture_touches_another(
    paper: Any, whole: tuple[Kind, Path], width: int
) -> None:
    open_page(paper, whole[1], width)
    assert paper.execute_script(CROWDED) == []


@pytest.mark.parametrize("sheet", SHEETS)
def test_it_takes_few_sheets(paper: Any, whole: tuple[Kind, Path], sheet: str) -> None:
    kind, page = whole
    open_page(paper, page, 1280)
    pdf = printed(paper, sheet)
    box = pdf.pages[0].mediabox
    assert float(box.width) == pytest.approx(SHEETS[sheet][0] / MM_PER_INCH * 72, abs=1)
    least, most = kind.sheets
    assert least <= len(pdf.pages) <= most


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_released_page_and_a_change_fit_a_folder(
    paper: Any, released: Path, change_study: Path, sheet: str
) -> None:
    for page, most in ((released, 9), (change_study, 8)):
        open_page(paper, page, 1280)
        assert 2 <= len(printed(paper, sheet).pages) <= most
