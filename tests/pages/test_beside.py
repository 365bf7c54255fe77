"""A period drawn over a chart with the mouse, and another group of newborns beside the months."""

import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pandas as pd
import pytest
from selenium.webdriver.common.action_chains import ActionChains

from pipelines.pages.review import other_groups
from pipelines.pages.review.read import ReviewData, read_review
from tests.conftest import Built

from .make_store import HOSTILE, UNIT
from .test_keyboard import ask, drawn, focus, fragment, months_drawn, options, press, reload_at
from .visit import open_page

PANEL = "document.getElementById('m-vitamin_k').closest('.panel')"


@pytest.fixture(scope="module")
def month(fake_store: Path) -> ReviewData:
    return read_review(fake_store, UNIT)


@pytest.fixture
def page(browser: Any, fake_page: Path) -> Iterator[Any]:
    browser.get("about:blank")
    open_page(browser, fake_page, 1280)
    return browser


def test_the_figures_are_those_of_whole_quarters(month: ReviewData) -> None:
    told = other_groups.figures(month)
    names = [name for _, name in told["quarters"]]
    assert names[-1] == "Jan to Mar 26", "April stands alone: its quarter is not whole"
    own = month.groups[
        (month.groups["measure_id"] == "vitamin_k") & (month.groups["split_by"] == "shift")
    ]
    rows = told["measures"]["vitamin_k"]["shift:night"]
    assert len(rows) == len(own) == len(names)
    for row, expected in zip(rows, own.to_dict("records"), strict=True):
        assert row[1] == round(100 * expected["numerator"] / expected["counted"], 1)
        assert row[2] == int(expected["counted"] < 20)
        assert row[3] == f"{expected['numerator']} of {expected['counted']}"
        assert told["quarters"][row[0]][0].startswith(
            f"{pd.Timestamp(expected['quarter']) + pd.DateOffset(months=1):%Y-%m-01}"
        )


@pytest.mark.slow
def test_units_and_groups_stand_in_reading_order(clean: Built) -> None:
    told = other_groups.figures(read_review(clean.store, "quillmere"))
    splits = list(dict.fromkeys(split for _, split, _ in told["groups"]))
    assert splits == ["Another unit", "Mode of birth", "Gestational age", "Shift of birth"]
    assert "Tansy Ridge" in told["groups"][0][2]
    shifts = [name for _, split, name in told["groups"] if split == "Shift of birth"]
    assert [name.split(",")[0] for name in shifts] == ["Day", "Night"]


def test_data_in_the_page_can_start_no_markup(month: ReviewData) -> None:
    html = other_groups.groups(month).html
    inside = html.split(">", 1)[1].rsplit("</script>", 1)[0]
    assert "<" not in inside
    assert json.loads(inside) == json.loads(json.dumps(other_groups.figures(month)))
    assert any(HOSTILE in key for key, _, _ in other_groups.figures(month)["groups"])


@pytest.mark.browser
def test_a_group_is_laid_over_the_months_with_its_figures(page: Any, fake_page: Path) -> None:
    assert options(page, "beside")[0] == "nothing"
    words = page.find_element("css selector", ".beside-words")
    assert not words.is_displayed()
    before = months_drawn(page, "m-vitamin_k")
    field = page.find_element("css selector", ".choose select[name=beside]")
    focus(page, field)
    press(page, *"Night")
    drawn(page)
    assert words.is_displayed()
    squares = f"[...{PANEL}.querySelectorAll('svg.marks path')].filter((one) => "
    squares += "/Group: Night/.test(one.ariaLabel)).length"
    assert ask(page, squares) == 8
    assert months_drawn(page, "m-vitamin_k") == before, "the months stay"
    table = f"[...{PANEL}.querySelectorAll('details.beside tbody tr')].map((one) => one.innerText)"
    page.execute_script(f"{PANEL}.querySelector('details.beside').open = true")
    rows = ask(page, table)
    assert len(rows) == 8 and rows[0].startswith("Jan to Mar 26")
    told = ask(page, f"{PANEL}.querySelector('.drawing [aria-label], .drawing').ariaLabel")
    assert "Beside it, by quarter, Shift of birth: Night" in told
    assert fragment(page) == "#?beside=shift%3Anight"
    reload_at(page, fake_page, "over-time?beside=shift:night")
    assert ask(page, squares) == 8
    page.find_element("css selector", ".choose button").click()
    drawn(page)
    assert ask(page, squares) == 0
    assert not ask(page, f"{PANEL}.querySelector('details.beside')")


@pytest.mark.browser
def test_a_groups_name_is_never_markup(page: Any, fake_page: Path) -> None:
    reload_at(page, fake_page, f"over-time?beside={quote('mode_of_birth:' + HOSTILE)}")
    assert ask(page, f"{PANEL}.querySelectorAll('details.beside').length") == 1
    assert HOSTILE in ask(page, f"{PANEL}.querySelector('details.beside').textContent")
    assert not page.find_elements("css selector", "main img")
    assert page.title != "broken"


@pytest.mark.browser
def test_a_period_is_drawn_over_a_chart(page: Any) -> None:
    whole = months_drawn(page, "m-first_temperature")
    drawing = page.find_element("css selector", "#m-first_temperature ~ .chart .drawing")
    page.execute_script("arguments[0].scrollIntoView({block: 'center'})", drawing)
    wide = drawing.size["width"]
    mouse = ActionChains(page).move_to_element_with_offset(drawing, int(-wide * 0.2), 0)
    mouse.click_and_hold().move_by_offset(int(wide * 0.2), 0).move_by_offset(int(wide * 0.1), 0)
    mouse.release().perform()
    time.sleep(0.3)
    drawn(page)
    left = months_drawn(page, "m-first_temperature")
    assert 4 <= len(left) < len(whole) - 4
    start = whole.index(left[0])
    assert whole[start : start + len(left)] == left, "the months between, none left out"
    assert months_drawn(page, "m-first_feed") == left, "every chart shows the period"
    assert fragment(page).startswith("#?from=20")
    assert ask(page, "document.querySelector('.choose select[name=from]').value") != ""


@pytest.mark.browser
def test_a_click_on_a_chart_changes_no_period(page: Any) -> None:
    whole = months_drawn(page, "m-first_temperature")
    drawing = page.find_element("css selector", "#m-first_temperature ~ .chart .drawing")
    page.execute_script("arguments[0].scrollIntoView({block: 'center'})", drawing)
    ActionChains(page).move_to_element(drawing).click().perform()
    mouse = ActionChains(page).move_to_element(drawing).click_and_hold().move_by_offset(6, 0)
    mouse.release().perform()
    time.sleep(0.3)
    drawn(page)
    assert months_drawn(page, "m-first_temperature") == whole
    assert fragment(page) == ""
