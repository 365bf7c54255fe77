"""A page by keyboard alone, its links into measures, and what a reader chooses to see.

Tab order, no trap, visible focus: WCAG 2.2, criteria 2.1.1, 2.1.2, 2.4.3 and 2.4.7.
"""

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from .visit import ASK_FOR_ALL, open_page, set_width

pytestmark = pytest.mark.browser
SECONDS = 30
EMPTY = (Keys.CONTROL, "a", Keys.NULL, Keys.DELETE)  # as a person empties a field

# Everything that must be reached, in the order of the page; what is closed is not reached.
REACHABLE = """
return [...document.querySelectorAll('a[href],summary,input,select,button,[tabindex="0"]')]
    .filter((one) => one.checkVisibility({contentVisibilityAuto: true}))
    .map((one) => one.tagName + ' ' + (one.getAttribute('href') ?? one.name ?? one.ariaLabel
        ?? one.textContent.slice(0, 60)));
"""
FOCUSED = """
const one = document.activeElement;
const style = getComputedStyle(one);
return [one.tagName + ' ' + (one.getAttribute('href') ?? one.name ?? one.ariaLabel
    ?? one.textContent.slice(0, 60)), style.outlineStyle, parseFloat(style.outlineWidth)];
"""


@pytest.fixture
def page(browser: Any, fake_page: Path) -> Iterator[Any]:
    """The browser with the review open at its beginning."""
    browser.get("about:blank")
    open_page(browser, fake_page, 1280)
    return browser


def press_row(page: Any, place: str) -> None:
    """Press the name of a measure in the table of all measures, which lies behind a press."""
    page.execute_script("document.querySelector('.all-measures').open = true")
    row = page.find_element("css selector", f".all-measures a[href='#{place}']")
    page.execute_script("arguments[0].scrollIntoView({ block: 'center' })", row)
    row.click()


def press(browser: Any, *keys: str) -> None:
    ActionChains(browser).send_keys(*keys).perform()


def ask(browser: Any, what: str, *values: Any) -> Any:
    return browser.execute_script(f"return {what}", *values)


def drawn(browser: Any) -> None:
    """Wait until every chart that is shown is drawn as chosen."""
    end = time.monotonic() + SECONDS
    time.sleep(0.2)
    waiting = "document.querySelectorAll('.chart:not([data-drawn])').length"
    while ask(browser, waiting) and time.monotonic() < end:
        time.sleep(0.1)


def reload_at(browser: Any, file: Path, fragment: str) -> None:
    browser.get("about:blank")
    browser.get(f"{file.as_uri()}#{fragment}")
    browser.execute_script(ASK_FOR_ALL)
    drawn(browser)


def fragment(browser: Any) -> str:
    return str(ask(browser, "location.hash"))


def block(browser: Any, place: str) -> Any:
    """The element that can be opened in the panel of a measure."""
    return ask(
        browser, "document.getElementById(arguments[0]).closest('.panel').querySelector('details')",
        place,
    )  # fmt: skip


def in_view(browser: Any, place: str) -> bool:
    top = "document.getElementById(arguments[0]).getBoundingClientRect().top"
    return bool(ask(browser, f"{top} >= 0 && {top} < innerHeight / 2", place))


def focus(browser: Any, element: Any) -> None:
    browser.execute_script("arguments[0].focus()", element)


def shown(browser: Any) -> list[str]:
    return list(
        ask(
            browser,
            "[...document.querySelectorAll('.choose + .panels > .panel')]"
            ".filter((one) => !one.hidden).map((one) => one.querySelector('h3').id)",
        )
    )


def months_drawn(browser: Any, place: str) -> list[str]:
    """The months that a chart's own marks name, in order."""
    return list(
        ask(
            browser,
            "[...document.getElementById(arguments[0]).closest('.panel')"
            ".querySelectorAll('svg.marks .mark-symbol path')]"
            ".map((one) => /Month: ([A-Z][a-z]{2} [0-9]{2})/.exec(one.ariaLabel)?.[1])"
            ".filter(Boolean)",
            place,
        )
    )


def test_tab_reaches_everything_in_order_and_shows_where_it_is(
    browser: Any, every_page: Path
) -> None:
    browser.get("about:blank")
    open_page(browser, every_page, 1280)
    expected = browser.execute_script(REACHABLE)
    assert len(expected) > 8
    assert not ask(browser, "document.querySelector('[tabindex]:not([tabindex=\"0\"],h2,h3)')")
    for place in expected:
        press(browser, Keys.TAB)
        name, style, width = browser.execute_script(FOCUSED)
        assert name == place
        assert style not in {"none", ""} and width >= 2, f"{name}: its focus cannot be seen"
    press(browser, Keys.TAB)
    assert ask(browser, "document.activeElement.tagName") == "BODY", (
        "the last leads out of the page"
    )


def test_enter_and_space_open_and_close(page: Any) -> None:
    details = block(page, "m-vitamin_k")
    focus(page, ask(page, "arguments[0].querySelector('summary')", details))
    for key, is_open in ((Keys.ENTER, True), (Keys.SPACE, False), (Keys.SPACE, True)):
        press(page, key)
        assert ask(page, "arguments[0].open", details) is is_open


def test_a_wide_table_is_scrolled_by_keys(page: Any) -> None:
    set_width(page, 390)
    details = block(page, "m-vitamin_k")
    focus(page, ask(page, "arguments[0].querySelector('summary')", details))
    press(page, Keys.ENTER)
    press(page, Keys.TAB)
    assert "months in figures" in ask(page, "document.activeElement.ariaLabel")
    before = ask(page, "document.activeElement.scrollLeft")
    press(page, *[Keys.ARROW_RIGHT] * 4)
    time.sleep(0.5)
    assert ask(page, "document.activeElement.scrollLeft") > before


def test_a_link_to_a_measure_opens_it_every_time(page: Any) -> None:
    link = page.find_element("css selector", ".measures a[href='#m-vitamin_k']")
    details = block(page, "m-vitamin_k")
    for way in ("click", "keys"):
        page.execute_script("arguments[0].open = false; scrollTo(0, 0)", details)
        if way == "click":
            link.click()
        else:
            focus(page, link)
            press(page, Keys.ENTER)
        time.sleep(0.3)
        assert ask(page, "arguments[0].open", details), way
        assert in_view(page, "m-vitamin_k")
        assert fragment(page) == "#m-vitamin_k"
    press(page, Keys.TAB)  # Tab goes on from the measure, not from the table
    panel = "arguments[0].closest('.panel').querySelector('.reach')"
    assert ask(page, f"{panel} === document.activeElement", details), "its chart comes next"


def test_an_address_shows_its_measure(page: Any, fake_page: Path) -> None:
    """From a file, with the network off, after every chart above it was drawn."""
    reload_at(page, fake_page, "m-first_stool?from=2025-05")
    details = block(page, "m-first_stool")
    assert ask(page, "arguments[0].open", details)
    assert not ask(page, "arguments[0].open", block(page, "m-vitamin_k"))
    assert in_view(page, "m-first_stool")
    press(page, Keys.TAB)  # Tab goes on from there, not from the top
    panel = "arguments[0].closest('.panel').querySelector('.reach')"
    assert ask(page, f"{panel} === document.activeElement", details), "its chart comes next"


def test_what_is_opened_can_be_mailed(page: Any, fake_page: Path) -> None:
    ask(page, "arguments[0].querySelector('summary').click()", block(page, "m-first_feed"))
    time.sleep(0.2)
    assert fragment(page) == "#m-first_feed"
    entries = ask(page, "history.length")
    rest = page.find_element("css selector", "details.rest summary")
    page.execute_script("arguments[0].click()", rest)
    time.sleep(0.2)
    told = fragment(page)
    assert told.startswith("#records?open=")
    assert ask(page, "history.length") == entries, "the back button is left alone"
    reload_at(page, fake_page, told[1:])
    assert ask(page, "document.querySelector('details.rest').open")
    assert in_view(page, "records")


def test_measures_are_chosen_by_their_words(page: Any) -> None:
    everything = shown(page)
    field = page.find_element("css selector", ".choose input[name=contains]")
    field.send_keys("VITAMIN")
    assert shown(page) == ["m-vitamin_k"]
    assert ask(page, "document.querySelector('.choose output').value") == "1 of 15 measures shown"
    assert fragment(page) == "#?contains=VITAMIN"
    field.send_keys(Keys.ENTER)  # sends nothing anywhere
    assert shown(page) == ["m-vitamin_k"]
    field.send_keys(*EMPTY)
    field.send_keys("<img src=x>")
    assert shown(page) == []
    field.send_keys(*EMPTY)
    assert shown(page) == everything
    assert fragment(page) == ""


def test_a_link_to_a_measure_that_is_hidden_shows_it(page: Any) -> None:
    page.find_element("css selector", ".choose input").send_keys("stool")
    assert shown(page) == ["m-first_stool"]
    press_row(page, "m-vitamin_k")
    time.sleep(0.3)
    assert "m-vitamin_k" in shown(page)
    assert in_view(page, "m-vitamin_k")
    assert ask(page, "document.querySelector('.choose input').value") == ""


def test_a_group_is_chosen_by_keys(page: Any, fake_page: Path) -> None:
    focus(page, page.find_element("css selector", ".choose select[name=group]"))
    press(page, "p")  # protection
    assert shown(page) == ["m-vitamin_k", "m-hepatitis_b_negative", "m-hepatitis_b_positive"]
    told = fragment(page)
    assert told == "#?group=protection"
    reload_at(page, fake_page, told[1:])
    assert len(shown(page)) == 3
    assert ask(page, "document.querySelector('.choose select[name=group]').value") == "protection"


def options(browser: Any, name: str) -> list[str]:
    found = browser.find_elements("css selector", f".choose select[name={name}] option")
    return [str(one.get_attribute("textContent")) for one in found]


def test_a_period_is_chosen_by_keys(page: Any, fake_page: Path) -> None:
    """The fabricated months: 24, the last of them April 2026."""
    assert options(page, "from")[:2] == ["the first, May 2024", "Jun 2024"]
    assert options(page, "to")[:2] == ["the last, Apr 2026", "Mar 2026"]
    whole = months_drawn(page, "m-vitamin_k")
    assert (len(whole), whole[0], whole[-1]) == (24, "May 24", "Apr 26")
    focus(page, page.find_element("css selector", ".choose select[name=from]"))
    press(page, *[Keys.ARROW_DOWN] * 12)
    drawn(page)
    last_year = months_drawn(page, "m-vitamin_k")
    assert last_year == whole[-12:]
    for place in shown(page):
        assert set(months_drawn(page, place)) <= set(last_year)
    focus(page, page.find_element("css selector", ".choose select[name=to]"))
    press(page, Keys.ARROW_DOWN)
    drawn(page)
    assert months_drawn(page, "m-vitamin_k") == whole[-12:-1]
    assert fragment(page) == "#?from=2025-05&to=2026-03"
    press_row(page, "m-first_feed")
    time.sleep(0.3)
    told = "m-first_feed?from=2025-05&to=2026-03"
    assert fragment(page) == f"#{told}"
    reload_at(page, fake_page, told)
    assert months_drawn(page, "m-first_feed")[0] == "May 25"
    assert months_drawn(page, "m-first_feed")[-1] == "Mar 26"
    focus(page, page.find_element("css selector", ".choose button"))
    press(page, Keys.SPACE)
    drawn(page)
    assert months_drawn(page, "m-vitamin_k") == whole
    assert not page.find_element("css selector", ".choose button").is_displayed()
    assert ask(page, "document.activeElement.name") == "contains", "the focus is not lost"


def test_what_is_to_be_drawn_anew_says_so_at_once_and_keeps_its_place(page: Any) -> None:
    """Charts are drawn one after another; until then each is known to show the old choice."""
    before, waiting, after = page.execute_script(
        """
        const high = () => document.documentElement.scrollHeight;
        const before = high();
        const field = document.querySelector('.choose select[name=from]');
        field.selectedIndex = 12;
        field.dispatchEvent(new Event('input', { bubbles: true }));
        return [before, document.querySelectorAll('.chart:not([data-drawn])').length, high()];
        """
    )
    assert waiting > 3
    assert abs(after - before) < 60, "nothing jumps while charts wait for their turn"
    drawn(page)


def test_the_end_that_was_set_stays(page: Any) -> None:
    focus(page, page.find_element("css selector", ".choose select[name=to]"))
    press(page, *[Keys.END])  # the earliest
    assert fragment(page) == "#?to=2024-06"
    focus(page, page.find_element("css selector", ".choose select[name=from]"))
    press(page, *[Keys.END])
    assert fragment(page) == "#?from=2026-03"


@pytest.mark.parametrize(
    "address",
    [
        "%E0%A4%A",
        "nowhere?from=abc&to=2026-13&group=none&open=99&beside=shift:noon",
        "m-vitamin_k?from=2026-03&to=2024-06&open=x",
    ],
)
def test_an_address_that_makes_no_sense_does_no_harm(
    page: Any, fake_page: Path, address: str
) -> None:
    page.get_log("browser")
    reload_at(page, fake_page, address)
    assert len(shown(page)) == 15
    assert len(months_drawn(page, "m-vitamin_k")) == 24
    assert page.get_log("browser") == []


def test_nothing_moves_by_itself(page: Any) -> None:
    """No animation, no transition, no gliding scroll, whatever the reader's system asks for."""
    assert ask(page, "document.getAnimations().length") == 0
    moving = ask(
        page,
        "[...document.querySelectorAll('*')].map((one) => [one, getComputedStyle(one)])"
        ".filter(([one, style]) => style.animationName !== 'none'"
        " || style.transitionDuration !== '0s' || style.scrollBehavior !== 'auto')"
        ".map(([one]) => one.outerHTML.slice(0, 80))",
    )
    assert moving == []
