"""Many signals: what chance gives, against draws."""

import doctest
import math

import numpy as np
import pytest
from scipy.stats import norm

from pipelines.statistics import many


def test_examples_in_docstrings() -> None:
    result = doctest.testmod(many)
    assert result.attempted > 0
    assert result.failed == 0


def test_forty_charts_over_a_year_where_nothing_changes() -> None:
    """480 looks at 3 in 1,000: 1.3 signals on average; drawn, two-sided p-values by scipy."""
    rng = np.random.default_rng(2)
    level = 0.0027
    counts = [(2 * norm.sf(np.abs(rng.standard_normal(480))) < level).sum() for _ in range(400)]
    assert np.mean(counts) == pytest.approx(
        many.expected_by_chance(level, np.full(40, 12)), abs=0.25
    )


def test_each_chart_may_have_its_own_false_alarms() -> None:
    assert many.expected_by_chance([0.01, 0.05], [12, 4]) == pytest.approx(0.32)
    assert many.expected_by_chance([], []) == 0


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (lambda: many.expected_by_chance(1.2), "between 0 and 1"),
        (lambda: many.expected_by_chance(math.nan), "needs its false-alarm"),
        (lambda: many.adjusted([0.1, 0.2], 1), "no more charts than looked at"),
        (lambda: many.adjusted([1.2], 4), "no more charts than looked at"),
    ],
)
def test_what_cannot_be_is_refused(act, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=says):
        act()


def test_of_signals_kept_at_a_share_no_more_are_luck_on_average() -> None:
    """200 rounds of 40 charts, four of which truly moved: at most 20 of 100 kept are luck."""
    rng = np.random.default_rng(6)
    wrong = []
    for _ in range(200):
        strength = np.abs(rng.standard_normal(40) + np.r_[np.full(4, 4.5), np.zeros(36)])
        by_chance = 2 * norm.sf(strength)
        kept = many.adjusted(by_chance, 40) <= 0.2
        wrong.append(kept[4:].sum() / max(kept.sum(), 1))
    assert 0.05 < np.mean(wrong) < 0.2


def test_charts_without_a_signal_count_as_looked_at() -> None:
    alone, among = (many.adjusted([0.001, 0.004], charts) for charts in (2, 40))
    assert (among > 5 * alone).all() and alone[0] <= alone[1]
    assert many.adjusted([], 12).tolist() == []


def test_a_signal_is_by_luck_no_more_often_than_any_signal_of_its_chart() -> None:
    assert many.so_strong(0.3, 24, 0.008) == many.so_strong(math.nan, 24, 0.008) == 0.008
    assert many.so_strong(6.0, 24, 0.008) == pytest.approx(24 * 2 * norm.sf(6.0))
