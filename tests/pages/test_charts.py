"""Charts as specifications: what they hold, and where they may be drawn."""

import json
from pathlib import Path
from typing import Any

import altair as alt
import pandas as pd
import pytest

from pipelines.base.frames import rows_of
from pipelines.drawing import over_months, theme
from pipelines.pages.review import read as review
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.shell import show as panels

from .make_store import UNIT


@pytest.fixture(scope="module")
def data(fake_store: Path) -> review.ReviewData:
    return review.read_review(fake_store, UNIT)


def chart(data: review.ReviewData, measure_id: str) -> dict[str, Any]:
    theme.use()
    row = next(row for row in rows_of(data.measures, MeasureRow) if row["measure_id"] == measure_id)
    series = data.series[data.series["measure_id"] == measure_id]
    changes = data.changes[data.changes["measure_id"] == measure_id]
    spec: dict[str, Any] = over_months.over_months(
        series, row, changes, data.over_time[measure_id]
    ).to_dict()
    return spec


def points(spec: dict[str, Any]) -> pd.DataFrame:
    """The frame with one row per month is the largest of the chart's data sets."""
    return pd.DataFrame(max(spec["datasets"].values(), key=len))


def test_every_month_has_a_point_and_percentages(data: review.ReviewData) -> None:
    drawn = points(chart(data, "vitamin_k"))
    series = data.series[data.series["measure_id"] == "vitamin_k"]
    assert drawn["rate"].tolist() == [round(rate * 100, 1) for rate in series["rate"]]
    assert drawn["month"].iloc[-1] == "2026-04-01T00:00:00"


def test_what_chance_allows_is_drawn_as_it_was_judged(data: review.ReviewData) -> None:
    spec = chart(data, "vitamin_k")
    drawn, judged = points(spec), data.over_time["vitamin_k"].points
    for name, column in (("low", "lower_limit"), ("centre", "centre"), ("high", "upper_limit")):
        assert drawn[name].tolist() == (100 * judged[column]).round(1).tolist()
    kinds = [layer["mark"]["type"] for layer in spec["layer"]]
    assert kinds[:2] == ["area", "line"]  # beneath everything else


def test_a_month_outside_limits_is_a_diamond_with_its_words(data: review.ReviewData) -> None:
    spec = chart(data, "vitamin_k")
    signals = data.over_time["vitamin_k"].signals
    outside = signals[signals["rule"] == "outside limits"]
    assert len(outside) > 0
    layers = spec["layer"]
    (mark,) = [layer for layer in layers if layer["mark"].get("shape") == "diamond"]
    assert mark["mark"]["color"] == theme.LIGHT["attention"]
    rows = spec["datasets"][mark["data"]["name"]]
    assert [row["month"] for row in rows] == [
        f"{on:%Y-%m-%dT00:00:00}" for on in outside["start_on"]
    ]
    assert any("outside limits, down" in json.dumps(rows) for rows in spec["datasets"].values())


def test_line_breaks_at_a_date_of_policy(data: review.ReviewData) -> None:
    drawn = points(chart(data, "hepatitis_b_negative"))
    by_month = drawn.set_index("month")["segment"]
    assert by_month["2025-12-01T00:00:00"] != by_month["2026-01-01T00:00:00"]
    assert by_month["2026-01-01T00:00:00"] == by_month["2026-04-01T00:00:00"]


def test_recorded_change_is_named_on_its_chart_alone(data: review.ReviewData) -> None:
    assert "Warm birth room" in json.dumps(chart(data, "first_temperature"))
    assert "Warm birth room" not in json.dumps(chart(data, "vitamin_k"))


def test_alternative_text_says_what_the_eye_sees(data: review.ReviewData) -> None:
    text = chart(data, "vitamin_k")["description"].replace("\N{NO-BREAK SPACE}", " ")
    row = data.measures.set_index("measure_id").loc["vitamin_k"]
    assert f"{row['numerator']} of {row['counted']}" in text
    for part in ("line of monthly", "May 24 to Apr 26", "higher is better", "target 95 %", "lower"):
        assert part in text


def test_notebook_gets_the_type_its_own_renderer_draws(data: review.ReviewData) -> None:
    """JupyterLab 4.6 draws application/vnd.vegalite.v5+json without a network, and no later."""
    bundle, _ = panels._for_notebook(chart(data, "vitamin_k"))
    spec = bundle["application/vnd.vegalite.v5+json"]
    assert spec["$schema"].endswith("/v5.json")
    assert isinstance(spec["width"], int)


def test_text_in_a_specification_cannot_close_its_script() -> None:
    spec = {"description": "</script><img src=x>"}
    html = panels._for_page(spec)["text/html"]
    assert html.count("<") == html.count("<div") + html.count("</div") + 2
    assert json.loads(html.split('json">')[1].split("</script>")[0]) == spec


def test_renderers_are_chosen_by_name() -> None:
    panels.draw_in_page()
    assert alt.renderers.active == "lanugo-page"
    panels.draw_in_notebook()
    assert alt.renderers.active == "lanugo-notebook"
