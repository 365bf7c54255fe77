"""Odd series: a reason in words, never a traceback, never NaN among the numbers drawn."""

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.statistics.over_time import OverTime
from tests.benchmark.false_alarms import months
from tests.statistics.test_over_time import breaks, chart, names, random, series


def sound(result: OverTime) -> None:
    """What must hold of every chart."""
    points = result.points
    always = ["n", "numerator", "rate", "centre"]
    assert np.isfinite(points[always].to_numpy(float)).all()
    drawn = points[points["has_limits"]]
    assert np.isfinite(drawn[["lower_limit", "upper_limit"]].to_numpy(float)).all()
    assert points.loc[~points["has_limits"], "lower_limit"].isna().all()
    assert (drawn["lower_limit"] <= drawn["upper_limit"]).all()
    assert result.signals.notna().all().all()
    assert (points["phase"] > 0).all()
    assert (result.chart_kind == "run") == (not points["has_limits"].any())


@pytest.mark.slow
@settings(max_examples=80, deadline=None)
@given(
    rows=st.lists(
        st.tuples(st.integers(0, 40), st.one_of(st.none(), st.integers(0, 40))), max_size=40
    ),
    kind=st.sampled_from(["proportion", "rate", "minutes", "count"]),
    cuts=st.lists(
        st.tuples(st.integers(0, 45), st.sampled_from(["policy", "change", "accepted"])), max_size=4
    ),
    skip=st.integers(0, 3),
)
def test_whatever_comes_in_the_chart_is_sound(
    rows: list[tuple[int, int | None]], kind: str, cuts: list[tuple[int, str]], skip: int
) -> None:
    counted = np.array([np.nan if of is None else of for _, of in rows], float)
    met = np.array([met for met, _ in rows], float)
    if kind == "proportion":
        met = np.minimum(met, np.nan_to_num(counted))
    frame = series(list(met), 1.0)
    frame["counted"] = counted
    frame = frame.drop(index=list(range(2, min(len(frame), 2 + skip))))
    at = months(46)
    given_breaks = breaks(*((f"{at[place]:%Y-%m-%d}", kind) for place, kind in cuts))
    sound(chart(frame, kind=kind, breaks=given_breaks))


@pytest.mark.parametrize(
    ("met", "births", "expected"),
    [
        ([], [], {"no_data"}),
        ([5.0], [10.0], {"too_few_points", "constant"}),
        ([0.0] * 24, [50.0] * 24, {"constant", "none_met"}),
        ([50.0] * 24, [50.0] * 24, {"constant", "all_met"}),
        ([0.0] * 5, [0.0] * 5, {"no_data"}),
        ([0.0, 8, 0, 9] * 6, [0.0, 10, 0, 10] * 6, {"empty_periods"}),
    ],
)
def test_odd_series_give_reasons(met: list[float], births: list[float], expected: set[str]) -> None:
    result = chart(series(met, births))
    assert expected <= set(names(result))
    assert result.signals.empty
    sound(result)


def test_a_unit_that_always_met_it_is_told_when_it_does_not() -> None:
    """All 600 of a year met: four of 50 missed is beyond chance, one is not."""
    steady = [50.0] * 12
    assert chart(series([*steady, 49.0], 50)).signals.empty
    assert chart(series([*steady, 46.0], 50)).signals["sense"].tolist() == ["worse"]


def test_fewer_than_twelve_points_are_a_run_chart_that_says_what_is_missing() -> None:
    result = chart(random(8, 100, 0.8, 11))
    assert result.chart_kind == "run"
    why = names(result)["too_few_points"]
    assert (why.found, why.needed) == (11, 12)
    assert result.points["centre"].iloc[0] == pytest.approx(result.points["rate"].median())


def test_a_run_chart_of_ten_points_judges_runs_and_of_nine_does_not() -> None:
    split = [60.0, 62, 61, 63, 60, 90, 91, 92, 93, 95, 94]
    found = chart(series(split, 100)).signals
    assert found["rule"].tolist() == ["few crossings"] and found["sense"].tolist() == ["moved"]
    nine = chart(series(split[:9], 100))
    assert nine.signals.empty and names(nine)["too_few_off_the_line"].found == 8


def test_values_without_any_spread_give_no_limits() -> None:
    result = chart(series([30.0] * 12 + [31.0] * 4, 80), kind="minutes")
    assert "no_variation" in names(result) and result.chart_kind == "run"
    sound(result)


def test_missing_months_are_counted_and_bridged() -> None:
    frame = random(9, 100, 0.8).drop(index=[3, 4, 15])
    result = chart(frame)
    assert names(result)["empty_periods"].found == 3
    assert len(result.points) == 21 and result.points["is_baseline"].sum() == 12


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"numerator": -1.0}, "2024-03 has a count that is negative"),
        ({"counted": -1.0}, "2024-03 has a count that is negative"),
        ({"numerator": np.inf}, "2024-03 has a count that is negative or infinite"),
        ({"numerator": np.nan}, "2024-03 has a denominator but no numerator"),
        ({"numerator": 101.0}, "2024-03 has more in the numerator"),
        ({"month": pd.Timestamp("2024-02-01")}, "2024-02 comes twice"),
    ],
)
def test_counts_that_cannot_be_are_named_by_month(change: dict[str, Any], words: str) -> None:
    frame = series([80.0] * 24, 100)
    for column, value in change.items():
        frame.loc[2, column] = value
    with pytest.raises(ValueError, match=words):
        chart(frame)


def test_unknown_kinds_and_columns_are_named() -> None:
    frame = random(1, 100, 0.8)
    with pytest.raises(ValueError, match="kind 'share'; known are bands"):
        chart(frame, kind="share")
    with pytest.raises(ValueError, match="no column counted"):
        chart(frame.drop(columns="counted"))
    with pytest.raises(ValueError, match="kind 'holiday'"):
        chart(frame, breaks=breaks(("2024-05-01", "holiday")))
