"""How charts look: where words lie, which shape means what, what is darkest, how axes are fitted.

Contrast and relative luminance: WCAG 2.2; the bounds between signals and the rest are the
project's own, no published source.
"""

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pipelines.drawing import percents
from pipelines.drawing.percents import fitted
from pipelines.drawing.theme import DARK, LIGHT, SENSES, SHAPES, SIGNAL_PX

from .asked import SWITCHED
from .conftest import EVERY_PAGE
from .test_palette import contrast, lightness
from .test_specifications import specifications
from .visit import ASK_FOR_ALL, Visit, faults, open_everything, open_page, wait_until_drawn

EVERY_CHART = [*EVERY_PAGE, "whole_review", "whole_fair", "messy_review", "messy_change"]
browser_test = pytest.mark.browser
Fixture = Callable[[str], Path]
Visited = Callable[[str, int], Visit]
SIGN = "axis from "  # where an axis does not begin at zero


@pytest.fixture
def page_of(request: pytest.FixtureRequest) -> Fixture:
    return lambda name: Path(request.getfixturevalue(name))


def lay(browser: Any, page: Path, width: int) -> None:
    open_page(browser, page, width)
    open_everything(browser)
    wait_until_drawn(browser)


@browser_test
@pytest.mark.parametrize("page_name", EVERY_CHART)
@pytest.mark.parametrize("width", [1280, 390])
def test_no_word_lies_on_anything(visited: Visited, page_name: str, width: int) -> None:
    """Fitted and from 0 to 100 %: no text on text, on a signal, under a line, or cut off."""
    visit = visited(page_name, width)
    assert visit.charts
    assert [one for found in visit.faults for one in found] == []
    assert len(visit.faults) == (2 if visit.axes else 1)


@browser_test
def test_a_word_on_another_is_noticed(browser: Any, fake_page: Path) -> None:
    lay(browser, fake_page, 1280)
    browser.execute_script(
        """
        const [one, other] = document.querySelectorAll('.chart .mark-text.role-mark text');
        one.setAttribute('transform', other.getAttribute('transform'));
        one.removeAttribute('stroke');
        one.textContent = 'planted';
        """
    )
    assert any("planted" in one for one in faults(browser))


@browser_test
@pytest.mark.parametrize("page_name", ["fake_page", "fake_fair", "change_study", "released"])
def test_one_switch_draws_every_axis_of_percentages(visited: Visited, page_name: str) -> None:
    axes = visited(page_name, 1280).axes
    assert axes and axes.words == ["fitted", "0 to 100 %"]
    assert axes.pressed == [["true", "false"], ["false", "true"], ["true", "false"]]
    before, after, back = axes.charts
    assert any(SIGN in text for _, texts in before for text in texts)
    assert "axis=whole" in axes.addresses[1]
    for is_of_percentages, texts in after:
        assert not any(SIGN in text for text in texts)
        if is_of_percentages:
            assert {"0 %", "100 %"} <= {text.replace("\N{NO-BREAK SPACE}", " ") for text in texts}
    assert back == before


@browser_test
def test_a_mailed_address_and_paper_have_their_axes(browser: Any, fake_page: Path) -> None:
    """What is read on the screen is mailed; on paper every axis is fitted, with its sign."""
    browser.get("about:blank")
    browser.get(f"{fake_page.as_uri()}#?axis=whole")
    browser.execute_script(ASK_FOR_ALL)
    wait_until_drawn(browser)
    time.sleep(1)
    shown = browser.execute_script(SWITCHED)
    assert len(shown) > 10
    assert not any(SIGN in text for _, texts in shown for text in texts)
    browser.execute_script("dispatchEvent(new Event('beforeprint'))")
    paper = browser.execute_script(SWITCHED)
    assert any(SIGN in text for _, texts in paper for text in texts)
    browser.execute_script("dispatchEvent(new Event('afterprint'))")
    time.sleep(2)
    assert browser.execute_script(SWITCHED) == shown


# ---- the axis -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("held", "low", "high"),
    [
        ([0.2, 1.1, 3.0], 0, 10),  # a rare harm
        ([0, 0], 0, 10),
        ([100, 100], 90, 100),
        ([82, 91], 80, 92),
        ([5, 90], 0, 100),
        ([20, 60], 0, 70),  # near zero: it begins there
        ([], 0, 100),
    ],
)
def test_an_axis_is_fitted(held: list[float], low: float, high: float) -> None:
    """Worked by hand from the rule in its docstring."""
    axis = fitted([*held, None])
    assert (axis.low, axis.high) == (low, high)
    assert axis.is_broken is (low > 0)


@pytest.mark.parametrize("low", range(0, 100, 3))
@pytest.mark.parametrize("span", [0, 1, 9, 25, 60])
def test_every_axis_holds_its_values_and_is_at_least_ten_points_tall(low: int, span: int) -> None:
    high = min(100, low + span)
    axis = fitted([low, high], [low - 40, high + 40])
    assert axis.low <= low and high <= axis.high
    assert 0 <= axis.low < axis.high <= 100
    assert axis.high - axis.low >= percents.LEAST
    assert 2 <= len(axis.ticks) <= 8
    assert all(axis.low <= tick <= axis.high for tick in axis.ticks)
    if low > 60 and span < 10:
        assert axis.high - axis.low <= 30, "a wide doubt does not flatten the months"


# ---- shapes -----------------------------------------------------------------------------------


def marks_of(spec: Any) -> list[dict[str, Any]]:
    """Return every mark of a point in a specification, with its encoding."""
    if isinstance(spec, list):
        return [one for inner in spec for one in marks_of(inner)]
    if not isinstance(spec, dict):
        return []
    found = [one for inner in spec.values() for one in marks_of(inner)]
    mark = spec.get("mark")
    if isinstance(mark, dict) and mark.get("type") == "point":
        found.append({**mark, "encoded": spec.get("encoding", {}).get("shape")})
    return found


@pytest.mark.build
@pytest.mark.parametrize("page_name", [*EVERY_PAGE, "whole_review", "whole_fair"])
def test_a_shape_has_one_meaning(page_of: Fixture, page_name: str) -> None:
    """Every shape is one of the table; those of signals are drawn of signals alone."""
    signs = {SHAPES[name] for name in ("outside", "rule up", "rule down")}
    signal_tones = {LIGHT[role] for role in SENSES.values()}
    for spec in specifications(page_of(page_name)):
        for mark in marks_of(spec):
            shape = mark.get("shape", "circle")
            assert shape in SHAPES.values(), shape
            tone = mark.get("fill") or mark.get("color") or mark.get("stroke")
            is_signal = tone in signal_tones and mark.get("size") == SIGNAL_PX
            assert (shape in signs) is is_signal, mark
            if mark["encoded"]:
                told = json.dumps(mark["encoded"])
                assert SHAPES["left out"] in told and SHAPES["value"] in told


def test_a_shape_is_not_used_twice() -> None:
    assert len(set(SHAPES.values())) == len(SHAPES)


# ---- what is darkest ----------------------------------------------------------------------------


def grey(palette: dict[str, str]) -> dict[str, str]:
    """Return a palette in shades of grey of the same relative luminance (WCAG 2.2)."""
    shades = {}
    for role, colour in palette.items():
        level = (lightness(colour, "normal") + 16) / 116
        luminance = level**3 if level > 6 / 29 else lightness(colour, "normal") / 903.3
        part = (
            12.92 * luminance if luminance <= 0.0031308 else 1.055 * luminance ** (1 / 2.4) - 0.055
        )
        shades[role] = f"#{round(255 * part):02x}" + f"{round(255 * part):02x}" * 2
    return shades


SCHEMES = {
    "light": dict(LIGHT),
    "dark": dict(DARK),
    "grey": grey(dict(LIGHT)),
    "print": {**LIGHT, "paper": "#ffffff"},
}
REST = ("data", "unknown", "line", "tint")  # lines and dots, centre, grid, limits


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("role", sorted(set(SENSES.values())))
def test_a_signal_is_the_darkest_thing(scheme: str, role: str) -> None:
    """Against the paper, a signal has at least 1.4 times the contrast of every line and dot."""
    palette = SCHEMES[scheme]
    signal = contrast(palette[role], palette["paper"])
    assert signal >= 7
    for other in REST:
        assert signal >= 1.4 * contrast(palette[other], palette["paper"]), other
