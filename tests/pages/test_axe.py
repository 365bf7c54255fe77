"""Every kind of page against axe-core, and what axe-core cannot judge measured here.

axe-core (see ``visit``): all its rules for WCAG 2.0 to 2.2, levels A and AA, and all its best
practices are on. Its experimental rules are off: they change between releases, and one of them
wants a header over the row of years of a table whose months already carry their year.
"""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .asked import FEWER
from .conftest import EVERY_PAGE, missing
from .visit import SCHEMES, Visit, axe_core, open_page, run_axe

pytestmark = pytest.mark.browser
MONTH = re.compile(r"[A-Z][a-z]{2}( \d{2,4})?")
every_page = pytest.mark.parametrize("page_name", EVERY_PAGE)
Visited = Callable[[str, int], Visit]


@pytest.fixture(scope="session")
def axe() -> str:
    """The text of axe-core."""
    text = axe_core()
    if text is None:
        missing("axe-core is needed: set AXE_CORE to the path of its axe.min.js (README)")
    return str(text)


@every_page
@pytest.mark.usefixtures("axe")
def test_axe_finds_nothing(visited: Visited, page_name: str) -> None:
    """With everything that can be opened open: every rule, and in dark and narrow as well those
    that look at colours or at where things lie.
    """
    found = {}
    for width in (1280, 390):
        looked = visited(page_name, width).axe
        assert looked is not None and looked.keys() == set(SCHEMES)
        for scheme, (passed, violations) in looked.items():
            is_whole = (width, scheme) == (1280, SCHEMES[0])
            assert passed > (20 if is_whole else 0), "axe-core looked at the page"
            if violations:
                found[width, scheme] = violations
    assert found == {}


def test_axe_finds_what_is_planted(browser: Any, fake_page: Path, axe: str) -> None:
    """The check itself can fail: a pale text in a table's last row and a skipped heading level."""
    open_page(browser, fake_page, 1280)
    browser.execute_script(
        """
        document.querySelector('main').insertAdjacentHTML('beforeend', '<h6>Too deep</h6>');
        const rows = document.querySelector('table.measures tbody').rows;
        rows[rows.length - 1].cells[1].style.color = '#ccc';
        """
    )
    browser.execute_script(FEWER)
    browser.set_script_timeout(180)
    browser.execute_script(axe)
    _, violations = run_axe(browser)
    assert {one[0] for one in violations} == {"color-contrast", "heading-order"}


@every_page
def test_every_table_is_named_and_its_headers_say_what_they_head(
    visited: Visited, page_name: str
) -> None:
    nameless, headers, tables = visited(page_name, 1280).tables
    assert tables > 1
    assert nameless == []
    assert headers == []


@every_page
def test_every_chart_is_one_image_with_its_description(visited: Visited, page_name: str) -> None:
    """The marks inside have no names of their own; the table behind a chart has the figures."""
    charts = [one for one in visited(page_name, 1280).charts if one["has_svg"]]
    assert charts
    for chart in charts:
        assert (chart["role"], chart["hidden"]) == ("img", "true")
        assert chart["label"] and len(chart["label"]) > 20


@every_page
@pytest.mark.parametrize("scheme", SCHEMES)
def test_text_in_charts_can_be_read(visited: Visited, page_name: str, scheme: str) -> None:
    """axe-core cannot tell what lies behind the text of a drawing; it lies on paper.

    The name of a month that has no room on a narrow axis is there and not drawn.
    """
    texts = visited(page_name, 1280).texts[scheme]
    drawn = [one for one in texts if one[1] > 0 or not MONTH.fullmatch(one[2])]
    assert len(drawn) > 10
    assert [one for one in drawn if one[0] < 4.5 or one[1] < 1] == []
