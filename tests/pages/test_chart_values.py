"""What a reader gets of a chart by pointer, finger and keyboard, and takes along, in a browser.

Every value of every chart of every kind of page is read, as its box says it; a month's is held
against the page's own table of months.
"""

import csv
import io
import re
import struct
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from .asked import MONTHS
from .conftest import EVERY_PAGE
from .visit import Visit, open_everything, open_page

pytestmark = pytest.mark.browser
NOTHING = re.compile(r"\b(undefined|NaN|nan|null|None|NaT|Infinity|inf)\b")

Visited = Callable[[str, int], Visit]


@pytest.mark.parametrize("page_name", [*EVERY_PAGE, "whole_review", "whole_fair"])
def test_every_value_of_every_chart_is_one(visited: Visited, page_name: str) -> None:
    """A mark without a value says nothing of it; no value is the word of a program."""
    told = visited(page_name, 1280).told
    assert told
    for panel, stops in told:
        assert stops, f"{panel}: a chart whose values cannot be read"
        for facts, said in stops:
            assert facts, panel
            for name, value in facts:
                assert value.strip(), (panel, facts)
                assert not NOTHING.search(f"{name} {value}"), (panel, facts)
                assert value in said, (panel, said)


@pytest.mark.parametrize("page_name", ["fake_page", "change_study"])
def test_a_month_says_what_the_table_says(visited: Visited, page_name: str) -> None:
    visit = visited(page_name, 1280)
    compared = 0
    for panel, stops in visit.told:
        rows = {row["Month"]: row for row in visit.months.get(panel, [])}
        for facts, _ in stops:
            said = dict(facts)
            row = rows.get(said.get("Month", ""))
            for name in said.keys() & row.keys() if row else ():
                assert said[name] == row[name], (panel, said, row)
                compared += 1
    assert compared > 100


@pytest.mark.parametrize("page_name", ["fake_page"])
def test_every_month_of_the_table_can_be_reached(visited: Visited, page_name: str) -> None:
    visit = visited(page_name, 1280)
    told = dict(visit.told)
    for panel in ("m-vitamin_k", "m-first_feed"):
        months = [facts[0][1] for facts, _ in told[panel]]
        assert months == [row["Month"] for row in reversed(visit.months[panel])]


@pytest.fixture
def chart(browser: Any, fake_page: Path) -> Iterator[Callable[[str], Any]]:
    """Elements of the chart of vitamin K, by their place in it."""
    browser.get("about:blank")
    open_page(browser, fake_page, 1280)
    box = browser.execute_script(
        "return document.getElementById('m-vitamin_k').closest('.panel').querySelector('.chart')"
    )
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", box)
    yield lambda place: box.find_element("css selector", place)


def text_of(element: Any) -> str:
    return str(element.get_attribute("textContent"))


@pytest.mark.parametrize("kind", ["mouse", "touch"])
def test_the_month_that_is_nearest_is_told(
    browser: Any, chart: Callable[[str], Any], kind: str
) -> None:
    """Real pointers, a little beside the first dot; an untouched chart says nothing."""
    assert not browser.find_elements("css selector", ".tip")
    dot = browser.execute_script(
        "return arguments[0].querySelector('.mark-symbol path')", chart(".drawing")
    )
    actions = ActionChains(browser)
    at = dot.rect
    if kind == "touch":
        point = {"x": at["x"] + 8, "y": at["y"] + 20}
        point["y"] -= browser.execute_script("return scrollY")
        for name, points in (("touchStart", [point]), ("touchEnd", [])):
            sent = {"type": name, "touchPoints": points}
            browser.execute_cdp_cmd("Input.dispatchTouchEvent", sent)
    else:
        actions.move_to_element_with_offset(dot, 5, 20).perform()
    time.sleep(0.2)
    tip = text_of(chart(".tip"))
    assert tip.startswith("MonthMay 24")
    # What a mouse shows stays where it is pointed at; a finger has the line beneath as well.
    assert ("May 24" in text_of(chart(".said"))) is (kind == "touch")


def test_the_interval_is_drawn_of_the_month_that_is_pointed_at(
    browser: Any, chart: Callable[[str], Any]
) -> None:
    shown = (
        "return [...arguments[0].querySelectorAll('.mark-rule line')]"
        ".filter((one) => one.getAttribute('stroke-width') === '5'"
        " && one.getAttribute('opacity') === '1').length"
    )
    assert browser.execute_script(shown, chart(".drawing")) == 0
    browser.execute_script("arguments[0].focus()", chart(".reach"))
    ActionChains(browser).send_keys(Keys.END).perform()
    assert browser.execute_script(shown, chart(".drawing")) == 1
    ActionChains(browser).send_keys(Keys.ESCAPE).perform()
    assert browser.execute_script(shown, chart(".drawing")) == 0


def test_keys_go_from_month_to_month_and_are_told_aloud(
    browser: Any, chart: Callable[[str], Any]
) -> None:
    said = chart(".said")
    assert said.get_attribute("aria-live") == "polite"
    browser.execute_script("arguments[0].focus()", chart(".reach"))
    for key, month in (
        (Keys.ARROW_RIGHT, "Apr 26"),  # the last is where reading begins
        (Keys.ARROW_LEFT, "Mar 26"),
        (Keys.HOME, "May 24"),
        (Keys.ARROW_LEFT, "May 24"),
        (Keys.ARROW_RIGHT, "Jun 24"),
        (Keys.END, "Apr 26"),
    ):
        ActionChains(browser).send_keys(key).perform()
        assert text_of(said).startswith(month)
    ActionChains(browser).send_keys(Keys.TAB).perform()
    assert not browser.find_elements("css selector", ".tip"), "nothing is left behind"


def test_a_key_lays_out_no_page(browser: Any, chart: Callable[[str], Any]) -> None:
    """A held key goes from month to month many times before the browser paints: it must not lay
    out a page of a hundred charts each time, twice.
    """
    press = (
        "for (let at = 0; at < 20; at++) arguments[0].dispatchEvent("
        "new KeyboardEvent('keydown', { key: 'ArrowLeft', bubbles: true }))"
    )

    def layouts() -> float:
        told = browser.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]
        return next(float(one["value"]) for one in told if one["name"] == "LayoutCount")

    browser.execute_cdp_cmd("Performance.enable", {})
    browser.execute_script("arguments[0].focus()", chart(".reach"))
    before = layouts()
    browser.execute_script(press, chart(".reach"))
    assert layouts() - before < 10
    assert chart(".said").get_attribute("textContent")
    tip, box = chart(".tip").rect, chart(".reach").rect
    assert tip["x"] > box["x"] and box["y"] <= tip["y"] <= box["y"] + box["height"]


def opened(browser: Any, chart: Callable[[str], Any]) -> dict[str, Any]:
    opener = chart(".ways > button")
    assert opener.get_attribute("aria-expanded") == "false"
    opener.click()
    assert opener.get_attribute("aria-expanded") == "true"
    found = chart(".ways > span").find_elements("css selector", "button")
    return {text_of(one): one for one in found}


def told_after(chart: Callable[[str], Any]) -> str:
    end = time.monotonic() + 10
    while not text_of(chart(".took")) and time.monotonic() < end:
        time.sleep(0.1)
    return text_of(chart(".took"))


def fetched(folder: Path) -> Path:
    end = time.monotonic() + 10
    while time.monotonic() < end:
        files = [one for one in folder.iterdir() if one.suffix in (".png", ".csv")]
        if files:
            return files[0]
        time.sleep(0.1)
    raise AssertionError("nothing was saved")


def test_a_chart_is_taken_along(
    browser: Any, chart: Callable[[str], Any], tmp_path: Path, fake_page: Path
) -> None:
    """Under the page's own policy and with the network off; PNG third edition, 11.2.1: sizes."""
    allow = {"behavior": "allow", "downloadPath": str(tmp_path)}
    browser.execute_cdp_cmd("Browser.setDownloadBehavior", allow)
    browser.get_log("browser")
    ways = opened(browser, chart)
    assert list(ways) == ["Copy picture", "PNG", "CSV"]
    for one in [*ways.values(), chart(".ways > button")]:
        assert one.rect["height"] >= 24 and one.rect["width"] >= 24  # WCAG 2.2, 2.5.8
    ways["PNG"].click()
    picture = fetched(tmp_path)
    assert picture.name.endswith("vitamin_k_2026-04.png") and "fern_hollow" in picture.name
    data = picture.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", data[16:24])
    drawn = chart(".drawing").rect
    assert width > 2 * drawn["width"] - 20 and height > 2 * drawn["height"]
    picture.unlink()
    ways["CSV"].click()
    table = fetched(tmp_path)
    assert table.name.endswith("vitamin_k_2026-04.csv")
    assert browser.get_log("browser") == []
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8-sig"))))
    open_everything(browser)
    months = browser.execute_script(MONTHS)["m-vitamin_k"]
    assert [row["Month"] for row in rows] == [row["Month"] for row in reversed(months)]
    for row, month in zip(rows, reversed(months), strict=True):
        assert f"{row['n']} of {row['N']}" == month["n of N"]
        assert row["Percent"] + "\N{NO-BREAK SPACE}%" == month["Percent"]


def test_a_picture_goes_to_the_clipboard(browser: Any, chart: Callable[[str], Any]) -> None:
    ways = opened(browser, chart)
    ways["Copy picture"].click()
    assert told_after(chart) == "Picture copied."


def test_a_cell_that_looks_like_a_formula_is_text(browser: Any, fake_page: Path) -> None:
    """The page's own function, asked in the page: it is inside a module, so its text is run."""
    source = Path("pipelines/drawing/take.js").read_text(encoding="utf-8")
    start = source.index("function csvCell")
    body = source[start : source.index("\n}", start) + 2]
    ask = f"{body}; return ['=1+1', '@x', '-3.5', '-x', 'a,b', 'a\"b'].map(csvCell)"
    open_page(browser, fake_page, 1280)
    told = browser.execute_script(ask)
    assert told == ["'=1+1", "'@x", "-3.5", "'-x", '"a,b"', '"a""b"']


def test_nothing_of_it_is_printed(browser: Any, chart: Callable[[str], Any]) -> None:
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        assert not chart(".under").is_displayed()
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
