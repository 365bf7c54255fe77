"""One visit of a page in a real browser: opened once at a width, everything asked that is asserted.

Tests assert on what ``look`` brought back; it asserts nothing itself, so that each of them fails
for its own reason. The order of the questions matters: the page as it opened, then on paper, and
last with everything open.

axe-core (Deque, MPL 2.0) is given by the environment variable AXE_CORE: the path of its
axe.min.js, which ``npm install --prefix FOLDER axe-core`` puts under FOLDER/node_modules.
"""

import base64
import io
import json
import os
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pypdf import PdfReader

from pipelines.drawing.theme import LIGHT, SENSES

from .asked import (
    AXE,
    AXES,
    CHART_TEXT,
    CHARTS,
    COLOURS,
    CROWDED,
    FEWER,
    LAID,
    MONTHS,
    OF_COLOURS,
    OF_WIDTH,
    ON_PAPER,
    READ_ALL,
    SWITCHED,
    TABLES,
    WHOLE,
)
from .laid import FAULTS

WIDTHS = (1280, 768, 390)
READ_AT_ONCE = 8  # charts
SCHEMES = ("light", "dark")
SECONDS = 60
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
MM_PER_INCH, PX_PER_INCH = 25.4, 96  # CSS Values and Units 4: an inch is 96 px
MARGIN_MM = 14  # the page's own, page.css
# ISO 216 and ANSI/ASME Y14.1, mm
SHEETS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


@dataclass(frozen=True)
class Sheets:
    """A page on one size of paper: what is wider than the sheet, and the sheets it takes."""

    over_px: int
    outside: list[str]
    number: int
    width_pt: float


# By chart: the id of its measure, and of each of its stops the facts and what is read aloud.
Told = list[tuple[str, list[tuple[list[list[str]], str]]]]


@dataclass(frozen=True)
class Axes:
    """The switch of a page's axes: its words, and before, after and after the way back:

    which button is pressed, the address, and of each chart whether its axis is of percentages and
    the words in it (SWITCHED).
    """

    words: list[str]
    pressed: list[list[str]]
    addresses: list[str]
    charts: list[list[tuple[bool, list[str]]]]


@dataclass(frozen=True)
class Visit:
    """What one page showed at one width.

    console: the browser's messages. asked: the schemes of every address the page asked for.
    charts: a dict per chart (CHARTS). over_px, outside: what is wider than the window (WHOLE).
    tables: the nameless, the headers that say not what they head, how many there are. texts,
    colours and axe by colour scheme; sheets by size of paper; crowded: pairs of texts that touch
    in charts; touching, cut: words of the page that lie on others, and that their box cuts off.
    told: what the box beside each mark of each chart says; months: the page's tables of months.
    faults: where words of charts lie on something, fitted and from 0 to 100 %; axes: the switch
    between both. What is only asked at some widths is empty at the others; axe is None without
    axe-core.
    """

    title: str
    images: int
    console: list[Any]
    asked: set[str]
    charts: list[dict[str, Any]]
    over_px: int
    outside: list[str]
    tables: tuple[list[str], list[str], int]
    crowded: list[list[str]]
    touching: list[list[str]]
    cut: list[str]
    texts: dict[str, list[list[Any]]] = field(default_factory=dict)
    colours: dict[str, list[str]] = field(default_factory=dict)
    sheets: dict[str, Sheets] = field(default_factory=dict)
    told: Told = field(default_factory=list)
    months: dict[str, list[dict[str, str]]] = field(default_factory=dict)
    faults: list[list[str]] = field(default_factory=list)
    axes: Axes | None = None
    axe: dict[str, Any] | None = None


def set_width(browser: Any, width: int, height: int = 800) -> None:
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def set_scheme(browser: Any, scheme: str) -> None:
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})


def wait_until_drawn(browser: Any) -> None:
    waiting = "return document.querySelectorAll('.chart:not([data-drawn])').length"
    end = time.monotonic() + SECONDS
    while browser.execute_script(waiting) and time.monotonic() < end:
        time.sleep(0.1)


# Sections behind a press, and measures that wait until someone asks, are in their place; the
# address stays as it was. What a reader sees who asks for nothing: test_first_look.py.
ASK_FOR_ALL = """
document.querySelectorAll("[data-rest]").forEach((one) => one.removeAttribute("data-rest"));
for (const one of document.querySelectorAll(".folded")) {
  one.querySelector("summary").remove();
  one.replaceWith(...one.childNodes);
}
document.querySelector("form.choose")?.dispatchEvent(new Event("input"));
"""


def open_page(browser: Any, page: Path, width: int) -> None:
    """Open a page and ask for everything that waits in it."""
    set_width(browser, width)
    browser.get(page.as_uri())
    browser.execute_script(ASK_FOR_ALL)
    wait_until_drawn(browser)


def open_everything(browser: Any) -> None:
    browser.execute_script("document.querySelectorAll('details').forEach((one) => one.open = true)")


def printed(browser: Any, sheet: str) -> PdfReader:
    wide, high = (side / MM_PER_INCH for side in SHEETS[sheet])
    size = {"paperWidth": wide, "paperHeight": high, "preferCSSPageSize": True}
    told = browser.execute_cdp_cmd("Page.printToPDF", size)
    return PdfReader(io.BytesIO(base64.b64decode(told["data"])))


def axe_core() -> str | None:
    """Return the text of axe-core, or None where it is not there."""
    path = Path(os.environ.get("AXE_CORE", ""))
    return path.read_text(encoding="utf-8") if path.is_file() else None


def run_axe(browser: Any, rules: tuple[str, ...] = ()) -> Any:
    """Return how many rules passed and which did not; axe-core must be in the page."""
    only = {"type": "rule", "values": rules} if rules else {"type": "tag", "values": TAGS}
    return browser.execute_async_script(AXE, only)


def look(browser: Any, page: Path, width: int, with_axe: bool) -> Visit:
    """Open a page at a width and return all that tests want to know of it there."""
    set_scheme(browser, "light")
    for log in ("performance", "browser"):
        browser.get_log(log)
    open_page(browser, page, width)
    asked = _asked(browser, page)
    over, outside = browser.execute_script(WHOLE)
    told: dict[str, Any] = {
        "charts": browser.execute_script(CHARTS),
        "images": browser.execute_script("return document.images.length"),
        "tables": tuple(browser.execute_script(TABLES)),
    }
    if width == max(WIDTHS):
        told |= _in_both_schemes(browser)
        told["sheets"] = {sheet: _on_paper(browser, sheet, width) for sheet in SHEETS}
    told |= _with_everything_open(browser, width, with_axe)
    told |= {"title": browser.title, "console": browser.get_log("browser")}
    return Visit(asked=asked, over_px=over, outside=outside, **told)


def _asked(browser: Any, page: Path) -> set[str]:
    """Return the kinds of address that a page asked for.

    The browser's own first tab may still be loading: only what this page asks for counts.
    """
    events = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    return {
        event["params"]["request"]["url"].split(":")[0]
        for event in events
        if event["method"] == "Network.requestWillBeSent"
        and event["params"]["documentURL"].startswith(page.as_uri())
    }


def _in_both_schemes(browser: Any) -> dict[str, Any]:
    told: dict[str, Any] = {"texts": {}, "colours": {}}
    for scheme in reversed(SCHEMES):
        set_scheme(browser, scheme)
        told["texts"][scheme] = browser.execute_script(CHART_TEXT)
        told["colours"][scheme] = browser.execute_script(COLOURS)
    return told


def _on_paper(browser: Any, sheet: str, width: int) -> Sheets:
    pdf = printed(browser, sheet)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    wide = int((SHEETS[sheet][0] - 2 * MARGIN_MM) / MM_PER_INCH * PX_PER_INCH)
    set_width(browser, wide, 900)
    over, outside = browser.execute_script(ON_PAPER)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    set_width(browser, width)
    return Sheets(over, outside, len(pdf.pages), float(pdf.pages[0].mediabox.width))


def _with_everything_open(browser: Any, width: int, with_axe: bool) -> dict[str, Any]:
    """Words of charts, and axe-core; the widest and the narrowest alone."""
    if width not in (max(WIDTHS), min(WIDTHS)):
        return {"crowded": [], "touching": [], "cut": []}
    open_everything(browser)
    wait_until_drawn(browser)
    touching, cut = browser.execute_script(LAID)
    told: dict[str, Any] = {
        "crowded": browser.execute_script(CROWDED),
        "touching": touching,
        "cut": cut,
    }
    told |= _on_both_axes(browser, width)
    if width == max(WIDTHS):
        told |= {"told": read_all(browser), "months": browser.execute_script(MONTHS)}
    library = axe_core() if with_axe else None
    if library:
        told["axe"] = _judged(browser, width, library)
    return told


def read_all(browser: Any) -> list[Any]:
    """Read every point of every drawn chart by key; a few charts a call, for each key lays a page
    of a hundred open charts out anew and one call may take two minutes at most.
    """
    told: list[Any] = []
    while part := browser.execute_script(READ_ALL, len(told), len(told) + READ_AT_ONCE):
        told += part
    return told


def faults(browser: Any) -> list[str]:
    """Return where words of charts lie on something, as they are drawn now."""
    colours = [LIGHT[role] for role in SENSES.values()]
    return list(browser.execute_script(FAULTS, colours))


def press_axis(browser: Any, place: int) -> None:
    browser.execute_script(f"{AXES}[{place}].click()")
    time.sleep(2)


def _on_both_axes(browser: Any, width: int) -> dict[str, Any]:
    """Faults with axes as they are fitted and from 0 to 100 %; the widest also goes back."""
    found = {"faults": [faults(browser)]}
    words = browser.execute_script(f"return {AXES}.map((one) => one.textContent.trim())")
    if not words:
        return found
    told = Axes(words, [], [], [])
    for place in (0, 1, 0) if width == max(WIDTHS) else (0, 1):
        if told.pressed:
            press_axis(browser, place)
        told.pressed.append(browser.execute_script(f"return {AXES}.map((one) => one.ariaPressed)"))
        told.addresses.append(browser.execute_script("return location.hash"))
        told.charts.append(browser.execute_script(SWITCHED))
        if place == 1:
            found["faults"].append(faults(browser))
    return {**found, "axes": told}


def _judged(browser: Any, width: int, library: str) -> dict[str, Any]:
    """Ask axe-core all its rules once; what hangs on colours, or on the width, wherever it may
    differ.
    """
    browser.execute_script(FEWER)
    browser.set_script_timeout(180)
    browser.execute_script(library)
    found = {}
    for scheme in SCHEMES:
        set_scheme(browser, scheme)
        by_width = () if width == max(WIDTHS) else OF_WIDTH
        found[scheme] = run_axe(browser, by_width if scheme == SCHEMES[0] else OF_COLOURS)
    set_scheme(browser, SCHEMES[0])
    return found
