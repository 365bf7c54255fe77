"""What was measured: means and spreads by month, in their own unit, and what a reader concludes."""

import json
import math
from pathlib import Path
from typing import Any, cast

import numpy as np
import pandas as pd
import pytest

from pipelines.base.store_file import open_store
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.read import read_review
from pipelines.pages.review.spread import charts as spread_charts
from pipelines.pages.review.spread import read as spread
from pipelines.pages.review.spread import words as spread_words
from tests.conftest import Built

from .conftest import OWN_UNIT
from .read_numbers import plain, read, statements

ROW = cast(MeasureRow, {"measure_id": "warm", "title": "Warm enough"})
FIRST = pd.Timestamp("2024-11-01")
NO_POLICY = pd.DataFrame({"start_on": pd.to_datetime([]), "kind": pd.Series([], dtype=str)})
RIPPLE = np.array([0.01, -0.012, 0.006, -0.004, 0.009, -0.008])


def measured(unit: str, mean: np.ndarray, sd: np.ndarray | float, n: int = 100) -> spread.Measured:
    values = pd.DataFrame(
        {
            "measure_id": "warm",
            "month": pd.date_range(FIRST, periods=len(mean), freq="MS"),
            "name": "Warm",
            "value_unit": unit,
            "readings": n,
            "mean": mean + np.resize(RIPPLE, len(mean)),
            "spread": sd,
        }
    )
    found = spread.measured_of(ROW, values, NO_POLICY)
    assert found is not None
    return found


def test_quiet_months_are_said_to_be_where_they_were() -> None:
    one = measured("°C", np.full(24, 36.7), 0.3 + np.resize(RIPPLE, 24))
    told = plain(spread_words.finding(one))
    assert told.startswith("October 2026: mean 36.69 °C, spread 0.29 °C, of 100 readings.")
    assert "as far as chance allows to tell" in told and "No month's spread" in told


def test_a_colder_mean_and_a_wider_spread_are_named() -> None:
    mean = np.where(np.arange(24) < 14, 36.7, 36.5)
    sd = np.where(np.arange(24) < 20, 0.3, 0.6) + np.resize(RIPPLE, 24)
    one = measured("°C", mean, sd)
    told = plain(spread_words.finding(one))
    assert "The mean is lower since" in told
    assert "The spread lies outside its limits in 4 months, last wider in October 2026." in told


def test_minutes_are_told_as_minutes_and_their_spread_as_times() -> None:
    one = measured("min", np.full(24, math.log(30)), math.log(2) + np.resize(RIPPLE, 24))
    told = plain(spread_words.finding(one))
    assert "mean 30 min, spread 1.98 times" in told


def test_too_few_months_have_no_limits_and_few_readings_no_point() -> None:
    assert "Too few months for limits yet." in spread_words.finding(
        measured("°C", np.full(6, 36.7), 0.3)
    )
    values = pd.DataFrame({"month": [FIRST], "readings": [3], "mean": [36.5], "spread": [0.2]})
    assert spread.measured_of(ROW, values.assign(value_unit="°C"), NO_POLICY) is None


@pytest.mark.parametrize("unit", ["°C", "min"])
def test_pictures_and_table_say_the_same(unit: str) -> None:
    level = 36.7 if unit == "°C" else math.log(30)
    mean = level + np.where(np.arange(24) < 18, 0.0, 0.5)
    one = measured(unit, mean, np.where(np.arange(24) == 22, 0.9, 0.3) + np.resize(RIPPLE, 24))
    cells = spread_charts.cells_of(one, one.months)
    for what in (spread_charts.MEAN, spread_charts.SPREAD):
        spec = spread_charts.over_months(one, what, FIRST).to_dict()
        assert "NaN" not in json.dumps(spec) and "undefined" not in json.dumps(spec)
        rows: list[dict[str, Any]] = next(
            each for each in spec["datasets"].values() if "Readings" in each[0]
        )
        assert [[row[name] for name in spread_charts.TOLD] for row in rows] == cells
        diamonds = [each for each in spec["layer"] if each["mark"].get("shape") == "diamond"]
        assert diamonds  # both moved, and both pictures show it


@pytest.mark.build
def test_means_of_the_store_are_worked_out_anew(clean: Built, whole_review: Path) -> None:
    data = spread.read_spread(clean.store, read_review(clean.store, OWN_UNIT))
    one = next(each for each in data.measured if each.measure_id == "arrival_temperature")
    with open_store(clean.store) as store:
        rows = store.execute(
            "select period, avg(value), stddev_samp(value), count(value) from membership "
            "where unit = $1 and measure_id = 'arrival_temperature' and is_counted "
            "group by 1 having count(value) >= 5 order by 1",
            [OWN_UNIT],
        ).fetchall()
    assert one.unit == "°C"
    wanted = [(pd.Timestamp(month), mean, sd, n) for month, mean, sd, n in rows]
    told = one.months[["month", "mean", "spread", "readings"]].to_numpy().tolist()
    for found, right in zip(told, wanted, strict=True):
        assert found[0] == right[0] and found[3] == right[3]
        assert found[1:3] == pytest.approx(right[1:3])
    titles = [each.title for each in data.measured]
    assert len(titles) == len(set(titles))
    page = read(whole_review.read_text(encoding="utf-8"))
    said = [each.words for each in statements(page) if each.section == "measured"]
    assert plain(spread_words.finding(one)) in said
