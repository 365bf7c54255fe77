"""The page in a real browser with the network off: every chart drawn, nothing cut."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .asked import LAID
from .conftest import EVERY_PAGE
from .visit import WIDTHS, Visit, open_page

pytestmark = pytest.mark.browser
every_page = pytest.mark.parametrize("page_name", EVERY_PAGE)
Visited = Callable[[str, int], Visit]


@pytest.mark.parametrize("page_name", ["fake_page"])
def test_every_chart_is_drawn_and_nothing_is_said_in_the_console(
    visited: Visited, page_name: str
) -> None:
    visit = visited(page_name, 1280)
    drawn = [one for one in visit.charts if one["has_svg"]]
    dots = [one for one in drawn if one["symbols"] > 5 or one["rects"] > 0]
    assert len(visit.charts) == len(drawn) == len(dots) > 10
    assert visit.console == []


def test_the_page_listens_before_its_last_chart_is_drawn(browser: Any, fake_page: Path) -> None:
    left = "document.querySelectorAll('.chart:not([data-drawn])').length"
    note = f"addEventListener('DOMContentLoaded', () => setTimeout(() => (window.left = {left})))"
    added = browser.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": note})
    try:
        open_page(browser, fake_page, 1280)
    finally:
        browser.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", added)
    assert browser.execute_script("return window.left") > 3
    assert browser.execute_script(f"return {left}") == 0


@pytest.mark.parametrize("page_name", ["fake_quality"])
def test_every_picture_of_last_digits_is_drawn(visited: Visited, page_name: str) -> None:
    visit = visited(page_name, 1280)
    bars = [one["rects"] for one in visit.charts]
    assert len(bars) == 3
    assert all(number >= 10 for number in bars)  # ten digits, and their expected shares
    assert visit.console == []


def test_a_silent_month_is_hatched_and_says_its_figure(browser: Any, fake_quality: Path) -> None:
    """Not by colour alone: the cell has a pattern, an outline and its number."""
    open_page(browser, fake_quality, 1280)
    cells = browser.execute_script(
        """
        return [...document.querySelectorAll('.heat .silent')].map((cell) => {
            const style = getComputedStyle(cell);
            return [cell.textContent, style.backgroundImage.slice(0, 9), style.outlineStyle];
        })
        """
    )
    assert cells == [["0", "repeating", "solid"]] * 2


@every_page
def test_nothing_is_requested_and_nothing_said(visited: Visited, page_name: str) -> None:
    visit = visited(page_name, 1280)
    assert visit.console == []
    assert "file" in visit.asked
    assert visit.asked <= {"file", "data", "blob"}


@every_page
@pytest.mark.parametrize("width", WIDTHS)
def test_no_sideways_scroll_and_nothing_cut(visited: Visited, page_name: str, width: int) -> None:
    assert_whole(visited(page_name, width))


def assert_whole(visit: Visit) -> None:
    """A page must not scroll sideways at its width, and nothing may stand outside it."""
    assert visit.over_px <= 0
    assert visit.outside == []


@pytest.mark.parametrize("page_name", [*EVERY_PAGE, "whole_review", "whole_fair"])
@pytest.mark.parametrize("width", [1280, 390])
def test_no_words_lie_on_others_and_none_are_cut_off(
    visited: Visited, page_name: str, width: int
) -> None:
    """With everything open; the words of charts: test_chart_marks.py."""
    visit = visited(page_name, width)
    assert visit.touching == []
    assert visit.cut == []


def test_words_on_others_and_words_cut_off_are_noticed(browser: Any, fake_page: Path) -> None:
    open_page(browser, fake_page, 1280)
    assert browser.execute_script(LAID) == [[], []]
    browser.execute_script(
        """
        const [one, other] = document.querySelectorAll('.first li, .first p');
        one.style.cssText = 'overflow: hidden; white-space: nowrap; width: 80px';
        other.style.cssText = 'position: relative; top: -24px';
        """
    )
    touching, cut = browser.execute_script(LAID)
    assert touching
    assert cut


def test_first_screen_answers_without_a_click(browser: Any, fake_page: Path) -> None:
    open_page(browser, fake_page, 1280)
    seen = browser.execute_script(
        """
        const bottom = (one) => document.querySelector(one).getBoundingClientRect().bottom;
        return [bottom('.first'), bottom('.measures thead'), window.scrollY]
        """
    )
    assert seen[0] < 620  # five lines
    assert seen[1] < 800  # the table begins on the screen
    assert seen[2] == 0


@pytest.mark.parametrize("page_name", ["fake_page", "fake_quality"])
def test_hostile_text_does_nothing(visited: Visited, page_name: str) -> None:
    visit = visited(page_name, 1280)
    assert visit.title != "broken"
    assert visit.images == 0


@pytest.mark.parametrize("page_name", ["fake_page"])
def test_dark_mode_changes_paper_and_charts(visited: Visited, page_name: str) -> None:
    colours = visited(page_name, 1280).colours
    for light, dark in zip(colours["light"], colours["dark"], strict=True):
        assert light and dark and light != dark
