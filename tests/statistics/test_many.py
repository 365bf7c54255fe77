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
    ],
)
def test_what_cannot_be_is_refused(act, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=says):
        act()
