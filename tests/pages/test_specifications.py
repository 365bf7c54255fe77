"""What a page gives its charts: specifications the library's schema knows, rows it would give."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import altair as alt
import pandas as pd
import pytest
from altair.utils import schemapi
from altair.utils.schemapi import SchemaValidationError
from jsonschema import ValidationError

from pipelines.base.frames import plain_rows
from pipelines.drawing import theme
from pipelines.drawing.layers import in_strip
from pipelines.drawing.theme import STRIP_HEIGHT_PX
from pipelines.pages.shell import show as panels

BOX = re.compile(r'<div class="chart">.*?<script type="application/json">(.*?)</script>', re.S)


def specifications(page: Path) -> list[dict[str, Any]]:
    """Return the charts of a page, without the one word the library's schema does not know.

    A background of null is none, as the library's documentation has it.
    """
    found = [json.loads(text) for text in BOX.findall(page.read_text(encoding="utf-8"))]
    for spec in found:
        assert spec["config"].pop("background") is None
    return found


def test_every_chart_of_every_page_keeps_to_the_schema(every_page: Path) -> None:
    found = specifications(every_page)
    assert found
    for spec in found:
        alt.LayerChart.validate(spec)


def test_a_specification_that_does_not_keep_to_the_schema_is_noticed(fake_page: Path) -> None:
    spec = specifications(fake_page)[0]
    spec["layer"][0]["mark"] = {"type": "no such mark"}
    with pytest.raises(ValidationError):
        alt.LayerChart.validate(spec)


MIXED = pd.DataFrame(
    {
        "month": ["2026-01", None],
        "rate": [81.5, float("nan")],
        "counted": [3, 4],
        "is_small": [True, False],
        "phase": pd.Series([1, None], dtype="object"),
    }
)


def test_rows_of_a_chart_are_those_the_library_gives() -> None:
    """Against the general library: Altair's own conversion, where that is JSON."""
    same = MIXED.drop(columns="phase")
    assert theme.chart_rows(same) == alt.to_values(same)
    assert plain_rows(MIXED)[1]["phase"] is None  # the library leaves NaN, which is no JSON


def test_rows_are_plain_python() -> None:
    first = plain_rows(MIXED)[0]
    assert [type(value) for value in first.values()] == [str, float, int, bool, int]
    assert plain_rows(MIXED.head(0)) == []


def test_dates_are_left_to_the_library() -> None:
    dates = pd.DataFrame({"on": pd.to_datetime(["2026-01-01"])})
    assert theme.chart_rows(dates) == {"values": [{"on": "2026-01-01T00:00:00"}]}


def test_what_has_no_end_is_left_to_the_library() -> None:
    """A number without an end is no JSON; the library makes it null."""
    endless = pd.DataFrame({"ratio": [1.5, float("inf")], "label": ["one", "two"]})
    given = theme.chart_rows(endless)
    assert [row["ratio"] for row in given["values"]] == [1.5, None]


def test_a_bar_of_the_strip_stands_in_proportion() -> None:
    """Worked by hand: the strip ends at 20 %, or at the next ten above the highest share."""
    few, many = pd.Series([0.0, 10.0, None]), pd.Series([0.0, 31.0])
    assert in_strip(few, 100).tolist()[:2] == [100 + STRIP_HEIGHT_PX, 100 + STRIP_HEIGHT_PX / 2]
    assert pd.isna(in_strip(few, 100)[2])
    assert in_strip(many, 100).tolist() == [
        100 + STRIP_HEIGHT_PX,
        round(100 + STRIP_HEIGHT_PX * (1 - 31 / 40), 1),
    ]


@pytest.fixture
def as_in_a_page() -> Iterator[None]:
    active, was = alt.renderers.active, schemapi.DEBUG_MODE
    panels.draw_in_page()
    yield
    alt.renderers.enable(active)
    schemapi.DEBUG_MODE = was


@pytest.mark.usefixtures("as_in_a_page")
def test_the_switch_that_saves_a_fifth_of_the_time_is_still_there() -> None:
    """The library keeps it as a variable of a module; a release may move it."""
    alt.Axis(values=3)  # with the switch on, this is refused at once
    schemapi.DEBUG_MODE = True
    with pytest.raises(SchemaValidationError):
        alt.Axis(values=3)
