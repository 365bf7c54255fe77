"""The page in a real browser with the network off: every chart drawn, nothing cut."""

import json
import time
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser
WIDTHS = (1280, 768, 390)
SECONDS = 60


def set_width(browser: Any, width: int, height: int = 800) -> None:
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def open_page(browser: Any, page: Path, width: int) -> None:
    set_width(browser, width)
    browser.get(page.as_uri())
    waiting = "return document.querySelectorAll('.chart:not([data-drawn])').length"
    end = time.monotonic() + SECONDS
    while browser.execute_script(waiting) and time.monotonic() < end:
        time.sleep(0.1)


def test_every_chart_is_drawn_and_nothing_is_said_in_the_console(
    browser: Any, fake_page: Path
) -> None:
    browser.get_log("browser")
    open_page(browser, fake_page, 1280)
    charts, drawn, dots = browser.execute_script(
        """
        const charts = [...document.querySelectorAll('.chart')];
        const svgs = charts.map((box) => box.querySelector('svg.marks'));
        const marks = (svg, kind) => (svg ? svg.querySelectorAll(`.mark-${kind} path`).length : 0);
        return [charts.length, svgs.filter(Boolean).length,
            svgs.filter((svg) => marks(svg, 'symbol') > 5 || marks(svg, 'rect') > 0).length]
        """
    )
    assert charts == drawn == dots > 10
    assert browser.get_log("browser") == []


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


def test_every_picture_of_last_digits_is_drawn(browser: Any, fake_quality: Path) -> None:
    browser.get_log("browser")
    open_page(browser, fake_quality, 1280)
    bars = browser.execute_script(
        """
        return [...document.querySelectorAll('.chart')].map(
            (box) => box.querySelectorAll('svg.marks .mark-rect path').length)
        """
    )
    assert len(bars) == 3
    assert all(number >= 10 for number in bars)  # ten digits, and their expected shares
    assert browser.get_log("browser") == []


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


def test_nothing_is_requested_and_nothing_said(browser: Any, every_page: Path) -> None:
    browser.get_log("performance")
    browser.get_log("browser")
    open_page(browser, every_page, 1280)
    assert browser.get_log("browser") == []
    events = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    # The browser's own first tab may still be loading: only what this page asks for counts.
    sent = [
        event
        for event in events
        if event["method"] == "Network.requestWillBeSent"
        and event["params"]["documentURL"].startswith(every_page.as_uri())
    ]
    asked = {event["params"]["request"]["url"].split(":")[0] for event in sent}
    assert "file" in asked
    assert asked <= {"file", "data", "blob"}


@pytest.mark.parametrize("width", WIDTHS)
def test_no_sideways_scroll_and_nothing_cut(browser: Any, every_page: Path, width: int) -> None:
    assert_whole(browser, every_page, width)


def assert_whole(browser: Any, page: Path, width: int) -> None:
    """Open a page at a width: it must not scroll sideways, and nothing may stand outside it."""
    open_page(browser, page, width)
    wide, shown = browser.execute_script(
        "return [document.documentElement.scrollWidth, window.innerWidth]"
    )
    assert wide <= shown
    outside = browser.execute_script(
        """
        return [...document.querySelectorAll(
            'h1,h2,h3,p,td,th,dd,summary,label,select,input,svg.marks,svg.marks text')]
            .filter((one) => !one.closest('.scroll,.unseen') && one.getClientRects().length)
            .filter((one) => {
                const box = one.getBoundingClientRect();
                return box.right > window.innerWidth + 1 || box.left < -1;
            })
            .filter((one) => getComputedStyle(one.closest('thead') || one).position !== 'absolute')
            .map((one) => one.tagName + ' ' + one.textContent.slice(0, 40))
        """
    )
    assert outside == []


def test_first_screen_answers_without_a_click(browser: Any, fake_page: Path) -> None:
    open_page(browser, fake_page, 1280)
    seen = browser.execute_script(
        """
        const bottom = (one) => document.querySelector(one).getBoundingClientRect().bottom;
        return [bottom('.answers'), bottom('.measures thead'), window.scrollY]
        """
    )
    assert seen[0] < 300
    assert seen[1] < 500
    assert seen[2] == 0


def test_hostile_text_does_nothing(browser: Any, any_page: Path) -> None:
    open_page(browser, any_page, 1280)
    assert browser.title != "broken"
    assert browser.execute_script("return document.images.length") == 0


def test_dark_mode_changes_paper_and_charts(browser: Any, fake_page: Path) -> None:
    colours = []
    for scheme in ("light", "dark"):
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
        open_page(browser, fake_page, 1280)
        colours.append(
            browser.execute_script(
                """
                const dot = document.querySelector('.chart .mark-symbol path');
                return [getComputedStyle(document.body).backgroundColor,
                    getComputedStyle(dot).stroke]
                """
            )
        )
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    assert colours[0][0] != colours[1][0]
    assert colours[0][1] != colours[1][1]
