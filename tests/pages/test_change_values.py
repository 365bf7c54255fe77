"""The mean by month around a change: degrees stay degrees, minutes minutes, and nothing is lost."""

import doctest
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipelines.drawing import values_axis
from pipelines.pages.change import sections as change_tables
from pipelines.pages.change import value_chart
from pipelines.pages.change.read import ChangeData, read_change
from pipelines.reading.before_after import AFTER, BEFORE
from pipelines.reading.measured import ValueStudy, value_study
from pipelines.statistics.interrupted import PRIORS

from .make_change import UNIT
from .read_numbers import plain, read, tables

pytestmark = pytest.mark.build
WARMER = 0.4  # °C
RIPPLE = np.array([0.01, -0.012, 0.006, -0.004])


@pytest.fixture(scope="module")
def data(fake_change_store: Path) -> ChangeData:
    return read_change(fake_change_store, UNIT)


def rows_of(data: ChangeData, unit: str) -> pd.DataFrame:
    """Return ValueRow of every month of the study: 36.5 °C, then 36.9; 30 minutes, then 20."""
    months = data.main.months
    after = (months["phase"] == AFTER).to_numpy()
    ripple = np.resize(RIPPLE, len(months))
    mean = 36.5 + WARMER * after if unit == "°C" else np.log(np.where(after, 20.0, 30.0))
    return pd.DataFrame(
        {
            "measure_id": data.main.row["measure_id"],
            "month": months["month"],
            "name": "A reading",
            "value_unit": unit,
            "readings": 100,
            "mean": mean + ripple,
            "spread": 0.3,
        }
    )


def value_of(data: ChangeData, unit: str) -> ValueStudy:
    found = value_study(rows_of(data, unit), data.main.months, data.main.split, PRIORS)
    assert found is not None and found.effect is not None
    return found


def test_examples_in_docstrings() -> None:
    assert doctest.testmod(values_axis).failed == 0


def test_degrees_are_drawn_as_they_were_read(data: ChangeData) -> None:
    value, rows = value_of(data, "°C"), rows_of(data, "°C")
    months = value_chart.months_of(data.main, value)
    assert months["mean"].tolist() == pytest.approx(rows["mean"].tolist())
    before, after = (months[months["phase"] == one] for one in (BEFORE, AFTER))
    assert before["course"].isna().all() and after["course"].notna().all()
    assert (after["fitted"] - after["course"]).mean() == pytest.approx(
        value.effect.points.guess if value.effect else 0, abs=0.02
    )
    assert (after["fitted"] - after["course"]).mean() == pytest.approx(WARMER, abs=0.1)
    assert ((after["low"] < after["course"]) & (after["course"] < after["high"])).all()


def test_minutes_are_drawn_as_minutes(data: ChangeData) -> None:
    months = value_chart.months_of(data.main, value_of(data, "min"))
    sides = [months.loc[months["phase"] == one, "mean"].mean() for one in (BEFORE, AFTER)]
    assert sides == pytest.approx([30.0, 20.0], rel=0.01)
    assert (months["high"].dropna() < 60).all()


@pytest.mark.parametrize("unit", ["°C", "min"])
def test_picture_and_table_say_the_same_months(data: ChangeData, unit: str) -> None:
    value = value_of(data, unit)
    chart = value_chart.over_values(data.main, value, change_tables._marks(data, data.main))
    spec = chart.to_dict()
    text = json.dumps(spec, allow_nan=False)
    assert "undefined" not in text and f"' {unit}'" in json.dumps(spec, ensure_ascii=False)
    rows: list[dict[str, Any]] = next(
        each for each in spec["datasets"].values() if "Readings" in each[0]
    )
    lines = value_chart.table_of(value_chart.months_of(data.main, value), value)
    told = [[row[name] for name in change_tables.VALUE_COLUMNS] for row in rows]
    assert told == lines[::-1] and len(lines) == len(data.main.months)
    assert all(row["low"] is None or row["low"] <= row["high"] for row in rows)


def test_the_page_shows_each_value_once(data: ChangeData, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[Any] = []
    monkeypatch.setattr(change_tables, "show", lambda one, **_: said.append(one))
    main = replace(data.main, value=value_of(data, "°C"))
    change_tables._show_values(data, [main, main, replace(data.main, value=None)])
    charts = [one for one in said if hasattr(one, "to_dict")]
    assert len(charts) == 1
    html = "".join(one.html for one in said if not hasattr(one, "to_dict"))
    assert "the mean reading by month:" in html and "0.4" in html
    (table,) = tables(read(html))
    assert table.rows[-1]["Mean"] == plain(f"{36.5 + RIPPLE[0]:.2f} °C")
    assert table.rows[0]["Phase"] == AFTER
