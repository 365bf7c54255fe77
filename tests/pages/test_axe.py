"""Every kind of page against axe-core, and what axe-core cannot judge measured here.

axe-core (Deque, MPL 2.0) is given by the environment variable AXE_CORE: the path of its
axe.min.js, which ``npm install --prefix FOLDER axe-core`` puts under FOLDER/node_modules.
All its rules for WCAG 2.0 to 2.2, levels A and AA, and all its best practices are on. Its
experimental rules are off: they change between releases, and one of them wants a header over
the row of years of a table whose months already carry their year.
"""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from .conftest import missing
from .test_browser import open_page, set_width

pytestmark = pytest.mark.browser
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
LOOKS = [(width, scheme) for width in (1280, 390) for scheme in ("light", "dark")]

RUN = """
const [tags, done] = arguments;
axe.run(document, {runOnly: {type: 'tag', values: tags}, resultTypes: ['violations']})
    .then((found) => done([found.passes.length, found.violations.map((one) => [
        one.id, one.help, one.nodes.length, one.nodes.slice(0, 3).map((node) => node.html)])]))
    .catch((error) => done(String(error)));
"""


@pytest.fixture(scope="session")
def axe() -> str:
    """The text of axe-core."""
    path = os.environ.get("AXE_CORE", "")
    if not Path(path).is_file():
        missing("axe-core is needed: set AXE_CORE to the path of its axe.min.js (README)")
    return Path(path).read_text(encoding="utf-8")


@pytest.fixture
def screen(browser: Any) -> Iterator[Any]:
    """The browser, set back to its own colours afterwards."""
    browser.set_script_timeout(180)
    yield browser
    set_scheme(browser, "light")


def set_scheme(browser: Any, scheme: str) -> None:
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})


def open_everything(browser: Any) -> None:
    browser.execute_script("document.querySelectorAll('details').forEach((one) => one.open = true)")


@pytest.mark.slow
def test_axe_finds_nothing(screen: Any, every_page: Path, axe: str) -> None:
    """In light and dark, wide and narrow, with everything that can be opened open."""
    open_page(screen, every_page, 1280)
    open_everything(screen)
    screen.execute_script(axe)
    found = {}
    for width, scheme in LOOKS:
        set_width(screen, width)
        set_scheme(screen, scheme)
        passed, violations = screen.execute_async_script(RUN, TAGS)
        assert passed > 20, "axe-core looked at the page"
        if violations:
            found[width, scheme] = violations
    assert found == {}


def test_axe_finds_what_is_planted(screen: Any, fake_page: Path, axe: str) -> None:
    """The check itself can fail: a pale text and a skipped heading level are both reported."""
    open_page(screen, fake_page, 1280)
    screen.execute_script(
        """
        document.querySelector('.answers p').style.color = '#ddd';
        document.querySelector('main').insertAdjacentHTML('beforeend', '<h6>Too deep</h6>');
        """
    )
    screen.execute_script(axe)
    _, violations = screen.execute_async_script(RUN, TAGS)
    assert {one[0] for one in violations} == {"color-contrast", "heading-order"}


def test_every_table_is_named_and_its_headers_say_what_they_head(
    screen: Any, every_page: Path
) -> None:
    open_page(screen, every_page, 1280)
    nameless, headers, tables = screen.execute_script(
        """
        const tables = [...document.querySelectorAll('main table')];
        const named = (table) => table.caption?.textContent.trim() || table.ariaLabel;
        const headers = [...document.querySelectorAll('main table th:not([scope])')];
        return [tables.filter((table) => !named(table)).map((one) => one.outerHTML.slice(0, 200)),
            headers.map((one) => one.outerHTML), tables.length];
        """
    )
    assert tables > 1
    assert nameless == []
    assert headers == []


def test_every_chart_is_one_image_with_its_description(screen: Any, every_page: Path) -> None:
    """The marks inside have no names of their own; the table behind a chart has the figures."""
    open_page(screen, every_page, 1280)
    charts = screen.execute_script(
        """
        return [...document.querySelectorAll('.chart')]
            .filter((box) => box.querySelector('svg.marks'))
            .map((box) => {
                const image = box.querySelector('.drawing');
                return [image.getAttribute('role'), image.getAttribute('aria-label'),
                    image.querySelector('svg').getAttribute('aria-hidden')];
            });
        """
    )
    assert charts
    for role, label, hidden in charts:
        assert (role, hidden) == ("img", "true")
        assert label and len(label) > 20


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


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_in_charts_can_be_read(screen: Any, every_page: Path, scheme: str) -> None:
    """axe-core cannot tell what lies behind the text of a drawing; it lies on paper."""
    set_scheme(screen, scheme)
    open_page(screen, every_page, 1280)
    texts = screen.execute_script(CHART_TEXT)
    assert len(texts) > 10
    assert [one for one in texts if one[0] < 4.5 or one[1] < 1] == []
