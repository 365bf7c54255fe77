"""What a reader sees who opens a review and asks for nothing: short, and what matters stands first.

The bounds are in screens of 1280 x 800 and 390 x 844 px.
"""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pipelines.base.frames import rows_of
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.read import read_review
from pipelines.pages.review.sections import panel_head

from .make_store import UNIT
from .visit import set_width, wait_until_drawn

SCREENS = {1280: (800, 8), 390: (844, 16)}


@pytest.mark.parametrize("width", SCREENS)
def test_a_review_of_every_measure_is_short(browser: Any, whole_review: Path, width: int) -> None:
    set_width(browser, width)
    browser.get(whole_review.as_uri())
    wait_until_drawn(browser)
    high, most = SCREENS[width]
    assert browser.execute_script("return document.documentElement.scrollHeight") <= most * high
    over = "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert browser.execute_script(over) <= 0


def test_the_button_says_what_waits(browser: Any, fake_page: Path) -> None:
    set_width(browser, 1280)
    browser.get(fake_page.as_uri())
    wait_until_drawn(browser)
    shown, waiting = browser.execute_script(
        """
        const heads = [...document.querySelectorAll('.panels .panel > h3[id^=m-]')];
        const waits = heads.filter((one) => one.closest('.panel').hidden);
        // One of those that wait has something to say.
        waits[0].removeAttribute('data-paper');
        document.querySelector('form.choose').dispatchEvent(new Event('input'));
        return [heads.length - waits.length, waits.length];
        """
    )
    assert shown and waiting
    words = browser.find_element("css selector", "form.choose [name=all]").text
    assert [int(number) for number in re.findall(r"\d+", words)] == [1, waiting - 1]
    assert words.startswith("Show 1 more that moved")


def test_few_charts_are_seen_however_much_moved(fake_store: Path) -> None:
    month = read_review(fake_store, UNIT)
    loud = replace(month, measures=month.measures.assign(rank=0))
    heads = [panel_head(loud, row).html for row in rows_of(loud.measures, MeasureRow)]
    assert len(heads) > 10
    assert ['data-rest="yes"' in head for head in heads[:5]] == [False] * 4 + [True]
    assert sum("data-rest" not in head for head in heads) == 4
    assert not any("data-paper" in head for head in heads)


def test_measures_at_rest_wait_and_come_at_a_press_or_a_link(
    browser: Any, whole_review: Path
) -> None:
    set_width(browser, 1280)
    browser.get(whole_review.as_uri())
    wait_until_drawn(browser)
    shown = "return document.querySelectorAll('.panels .panel:not([hidden]) > h3[id^=m-]').length"
    waits = "return document.querySelectorAll('h3[data-rest]').length"
    every = "return document.querySelectorAll('.panels .panel > h3[id^=m-]').length"
    few, resting, all_of = (browser.execute_script(one) for one in (shown, waits, every))
    assert resting > 0 and few == all_of - resting
    first = browser.execute_script("return document.querySelector('h3[data-rest]').id")
    browser.execute_script("window.location.hash = arguments[0]", first)
    wait_until_drawn(browser)
    assert browser.execute_script(shown) == few + 1
    browser.execute_script("document.querySelector('form.choose [name=all]').click()")
    wait_until_drawn(browser)
    assert browser.execute_script(shown) == all_of
    drawn = "return [...document.querySelectorAll('.panels .chart')].map((o) => o.dataset.drawn)"
    assert set(browser.execute_script(drawn)) == {"yes"}


def test_a_link_to_a_section_behind_a_press_opens_it(browser: Any, whole_review: Path) -> None:
    set_width(browser, 1280)
    browser.get(whole_review.as_uri())
    browser.find_element("css selector", "nav.here a[href='#why']").click()
    wait_until_drawn(browser)
    assert browser.execute_script("return document.querySelector('#why ~ .folded').open")
