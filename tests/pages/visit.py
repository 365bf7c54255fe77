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

WIDTHS = (1280, 768, 390)
SCHEMES = ("light", "dark")
SECONDS = 60
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
MM_PER_INCH, PX_PER_INCH = 25.4, 96  # CSS Values and Units 4: an inch is 96 px
MARGIN_MM = 14  # the page's own, page.css
# ISO 216 and ANSI/ASME Y14.1, mm
SHEETS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}

CHARTS = """
const charts = [...document.querySelectorAll('.chart')];
const count = (box, kind) => box.querySelectorAll(`svg.marks .mark-${kind} path`).length;
return charts.map((box) => {
    const image = box.querySelector('.drawing');
    return {
        drawn: box.dataset.drawn ?? null, has_svg: Boolean(box.querySelector('svg.marks')),
        symbols: count(box, 'symbol'), rects: count(box, 'rect'),
        role: image.getAttribute('role'), label: image.getAttribute('aria-label'),
        hidden: image.querySelector('svg')?.getAttribute('aria-hidden') ?? null,
    };
});
"""
# What stands outside the window; a table that may be scrolled, and what only a reader aloud gets,
# may.
WHOLE = """
const outside = [...document.querySelectorAll(
    'h1,h2,h3,p,td,th,dd,summary,label,select,input,svg.marks,svg.marks text')]
    .filter((one) => !one.closest('.scroll,.unseen') && one.getClientRects().length)
    .filter((one) => {
        const box = one.getBoundingClientRect();
        return box.right > window.innerWidth + 1 || box.left < -1;
    })
    .filter((one) => getComputedStyle(one.closest('thead') || one).position !== 'absolute')
    .map((one) => one.tagName + ' ' + one.textContent.slice(0, 40));
return [document.documentElement.scrollWidth - window.innerWidth, outside];
"""
TABLES = """
const tables = [...document.querySelectorAll('main table')];
const named = (table) => table.caption?.textContent.trim() || table.ariaLabel;
const headers = [...document.querySelectorAll('main table th:not([scope])')];
return [tables.filter((table) => !named(table)).map((one) => one.outerHTML.slice(0, 200)),
    headers.map((one) => one.outerHTML), tables.length];
"""
# Relative luminance and contrast: WCAG 2.2, definitions; 4.5:1 for text, criterion 1.4.3.
CHART_TEXT = """
const linear = (part) => part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
const light = (colour) => {
    const [r, g, b] = colour.match(/[\\d.]+/g).map((part) => linear(part / 255));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const paper = getComputedStyle(document.body).backgroundColor;
return [...document.querySelectorAll('svg.marks text')]
    .filter((text) => text.textContent && getComputedStyle(text).fill !== paper)
    .map((text) => {
        const style = getComputedStyle(text);
        const [low, high] = [light(style.fill), light(paper)].sort((a, b) => a - b);
        return [(high + 0.05) / (low + 0.05), Number(style.opacity), text.textContent];
    });
"""
COLOURS = """
const dot = document.querySelector('.chart .mark-symbol path');
return [getComputedStyle(document.body).backgroundColor, dot && getComputedStyle(dot).stroke];
"""
ON_PAPER = """
const root = document.documentElement;
const outside = [...document.querySelectorAll('h1,h2,h3,p,td,th,dd,li,svg.marks')]
    .filter((one) => one.getClientRects().length && !one.closest('.unseen'))
    .filter((one) => one.getBoundingClientRect().right > root.clientWidth + 1);
return [root.scrollWidth - root.clientWidth,
    outside.map((one) => one.tagName + ' ' + one.textContent.slice(0, 40))];
"""
# Texts of one picture that touch, or that leave it; a text drawn twice is its halo.
CROWDED = """
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
# Words of the page that lie on other words, and words that their own box cuts off. What stays in
# place while the page moves lies over it by design; heads of tables are only read aloud where it
# is narrow; what is scrolled out of sight lies on nothing.
LAID = """
const isOver = (one) => ['fixed', 'sticky', 'absolute'].includes(getComputedStyle(one).position);
const over = new Set([...document.querySelectorAll('nav, thead, thead th')].filter(isOver));
const isApart = (one) => one.closest('svg, .unseen, .tip, script, style, .chart, option')
  || [...over].some((top) => top.contains(one));
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const boxes = [], cut = [];
for (let node; (node = walker.nextNode()); ) {
  const words = node.textContent.trim();
  const around = node.parentElement;
  if (!words || !around.checkVisibility() || isApart(around)) continue;
  const range = document.createRange();
  range.selectNodeContents(node);
  const seen = around.closest('.scroll')?.getBoundingClientRect();
  for (const { left, right, top, bottom } of range.getClientRects()) {
    const at = { left: Math.max(left, seen?.left ?? left),
      right: Math.min(right, seen?.right ?? right),
      top: Math.max(top, seen?.top ?? top), bottom: Math.min(bottom, seen?.bottom ?? bottom) };
    if (at.right - at.left > 1 && at.bottom - at.top > 1)
      boxes.push({ node, words: words.slice(0, 40), at });
  }
}
boxes.sort((one, other) => one.at.top - other.at.top);
const touching = [];
for (const [place, one] of boxes.entries())
  for (let next = place + 1; next < boxes.length; next++) {
    const other = boxes[next];
    if (other.at.top > one.at.bottom - 4) break;
    const wide = Math.min(one.at.right, other.at.right) - Math.max(one.at.left, other.at.left);
    const high = Math.min(one.at.bottom, other.at.bottom) - other.at.top;
    if (wide > 2 && high > 4 && one.node !== other.node) touching.push([one.words, other.words]);
  }
for (const one of new Set(boxes.map((box) => box.node.parentElement))) {
  for (let at = one; at && at !== document.body; at = at.parentElement) {
    const style = getComputedStyle(at);
    const hides = ['hidden', 'clip'];
    if ((hides.includes(style.overflowX) && at.scrollWidth > at.clientWidth + 1)
        || (hides.includes(style.overflowY) && at.scrollHeight > at.clientHeight + 1))
      cut.push(at.tagName + ' ' + at.textContent.trim().slice(0, 40));
  }
}
return [touching, [...new Set(cut)]];
"""
AXE = """
const [tags, done] = arguments;
axe.run(document, {runOnly: {type: 'tag', values: tags}, resultTypes: ['violations']})
    .then((found) => done([found.passes.length, found.violations.map((one) => [
        one.id, one.help, one.nodes.length, one.nodes.slice(0, 3).map((node) => node.html)])]))
    .catch((error) => done(String(error)));
"""


@dataclass(frozen=True)
class Sheets:
    """A page on one size of paper: what is wider than the sheet, and the sheets it takes."""

    over_px: int
    outside: list[str]
    number: int
    width_pt: float


@dataclass(frozen=True)
class Visit:
    """What one page showed at one width.

    console: the browser's messages. asked: the schemes of every address the page asked for.
    charts: a dict per chart (CHARTS). over_px, outside: what is wider than the window (WHOLE).
    tables: the nameless, the headers that say not what they head, how many there are. texts,
    colours and axe by colour scheme; sheets by size of paper; crowded: pairs of texts that touch
    in charts; touching, cut: words of the page that lie on others, and that their box cuts off.
    What is only asked at some widths is empty at the others; axe is None without axe-core.
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


def run_axe(browser: Any) -> Any:
    """Return how many rules passed and which did not; axe-core must be in the page."""
    return browser.execute_async_script(AXE, TAGS)


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
    """Texts that touch, and axe-core in light and dark; the widest and the narrowest alone."""
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
    library = axe_core() if with_axe else None
    if library:
        browser.set_script_timeout(180)
        browser.execute_script(library)
        told["axe"] = {}
        for scheme in SCHEMES:
            set_scheme(browser, scheme)
            told["axe"][scheme] = run_axe(browser)
        set_scheme(browser, "light")
    return told
