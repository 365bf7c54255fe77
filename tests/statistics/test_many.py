"""Many signals: what chance gives, and the false-discovery rate, against libraries and draws."""

import doctest
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from pipelines.statistics import many

# Benjamini and Hochberg, J R Stat Soc B 1995;57:289, section 4: fifteen p-values of a trial of
# thrombolysis; with a false-discovery rate of 0.05 the four smallest are kept (from memory).
BH_1995 = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
    0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0000,
]  # fmt: skip


def test_examples_in_docstrings() -> None:
    result = doctest.testmod(many)
    assert result.attempted > 0
    assert result.failed == 0


def test_the_example_of_benjamini_and_hochberg_keeps_four() -> None:
    shuffled = pd.DataFrame({"p_value": BH_1995[::-1], "name": range(15)})
    found = many.rank(shuffled, 0.05, np.ones(15))
    assert int(found.signals["is_kept"].sum()) == 4
    assert found.signals["p_value"].tolist() == BH_1995
    assert found.signals["name"].tolist() == list(range(14, -1, -1))
    assert found.expected == pytest.approx(0.75)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=60))
def test_adjusted_is_the_librarys(p_values: list[float]) -> None:
    """statsmodels multipletests(method='fdr_bh')."""
    theirs = multipletests(p_values, method="fdr_bh")[1]
    assert many.adjusted(p_values) == pytest.approx(theirs)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=2, max_size=60), st.data())
def test_leaving_out_the_weak_never_makes_a_strong_one_stronger(
    p_values: list[float], data: st.DataObject
) -> None:
    kept = data.draw(st.integers(1, len(p_values)))
    ordered = sorted(p_values)
    whole, part = many.adjusted(ordered), many.adjusted(ordered[:kept], len(ordered))
    assert (part >= whole[:kept] - 1e-12).all()
    if kept == len(ordered):
        assert part == pytest.approx(whole)


def test_forty_charts_over_a_year_where_nothing_changes() -> None:
    """480 looks at 3 in 1,000: 1.3 signals on average, and hardly ever one that is kept."""
    rng = np.random.default_rng(2)
    level, kept, counts = 0.0027, 0, []
    for _ in range(400):
        strength = rng.standard_normal(480)
        p = many.p_of_strength(strength)
        signals = pd.DataFrame({"strength": strength[p < level]})
        found = many.rank(signals, level, np.full(40, 12))
        counts.append(found.found)
        kept += bool(found.signals["is_kept"].any())
    assert np.mean(counts) == pytest.approx(found.expected, abs=0.25)
    assert kept / 400 < 0.09  # 0.05 on average; four standard errors are 0.04


def test_each_chart_may_have_its_own_false_alarms() -> None:
    assert many.expected_by_chance([0.01, 0.05], [12, 4]) == pytest.approx(0.32)
    assert many.expected_by_chance([], []) == 0


@pytest.mark.filterwarnings("error")
def test_nothing_ties_and_what_has_no_p_value() -> None:
    empty = many.rank(pd.DataFrame({"p_value": []}), 0.01, 480)
    assert (empty.found, len(empty.signals), empty.expected) == (0, 0, pytest.approx(4.8))
    rows = pd.DataFrame({"p_value": [math.nan, 0.00001, 0.00001], "name": ["x", "y", "z"]})
    found = many.rank(rows, 0.01, 100).signals
    assert found["name"].tolist() == ["y", "z", "x"]
    assert found["is_kept"].tolist() == [True, True, False]
    assert found["place"].tolist()[:2] == [1, 1] and pd.isna(found["place"].iloc[2])


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (lambda: many.expected_by_chance(1.2), "between 0 and 1"),
        (lambda: many.expected_by_chance(math.nan), "needs its false-alarm"),
        (lambda: many.adjusted([1.5]), "between 0 and 1"),
        (lambda: many.adjusted([0.1, 0.2], 1), "cannot be"),
        (lambda: many.rank(pd.DataFrame({"name": ["x"]}), 0.01), "'p_value' or 'strength'"),
    ],
)
def test_what_cannot_be_is_refused(act, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=says):
        act()
