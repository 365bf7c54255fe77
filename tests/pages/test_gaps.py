"""Gaps and their intervals, against published values, a library and the formulas themselves."""

import doctest
import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from pipelines.reading import gaps
from tests.statistics.test_intervals import NEWCOMBE


def test_examples_in_docstrings() -> None:
    result = doctest.testmod(gaps)
    assert result.attempted > 0
    assert result.failed == 0


def pair(numbers: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([float(numbers[0])]), np.array([float(numbers[1])])


@pytest.mark.parametrize(("part", "rest", "lower", "upper"), NEWCOMBE)
def test_difference_is_newcombes(
    part: tuple[int, int], rest: tuple[int, int], lower: float, upper: float
) -> None:
    low, high = gaps.difference(pair(part), pair(rest))
    assert float(low[0]) == pytest.approx(lower, abs=6e-5)
    assert float(high[0]) == pytest.approx(upper, abs=6e-5)


def katz(part: tuple[int, int], rest: tuple[int, int]) -> tuple[float, float]:
    """Return the interval of a ratio by the formula of Katz et al., Biometrics 1978;34:469."""
    (a, m), (b, n) = part, rest
    error = math.sqrt(1 / a - 1 / m + 1 / b - 1 / n)
    ratio, wide = (a / m) / (b / n), float(norm.ppf(0.975)) * error
    return ratio * math.exp(-wide), ratio * math.exp(wide)


@pytest.mark.parametrize(("part", "rest"), [((56, 70), (48, 80)), ((5, 56), (9, 290))])
def test_ratio_is_katz(part: tuple[int, int], rest: tuple[int, int]) -> None:
    low, high = gaps.ratio(pair(part), pair(rest))
    assert (float(low[0]), float(high[0])) == pytest.approx(katz(part, rest), rel=1e-9)


def test_ratio_without_anyone_is_missing() -> None:
    low, high = gaps.ratio(pair((0, 40)), pair((3, 40)))
    assert math.isnan(low[0])
    assert math.isnan(high[0])


def row(numerator: int, counted: int, all_numerator: int, all_counted: int) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "numerator": [numerator],
            "counted": [counted],
            "all_numerator": [all_numerator],
            "all_counted": [all_counted],
        }
    )


@pytest.mark.parametrize(
    ("events", "of", "lower", "upper"), [(81, 263, 0.2553, 0.3662), (0, 20, 0.0, 0.1611)]
)
def test_interval_of_a_part_is_wilsons(events: int, of: int, lower: float, upper: float) -> None:
    """Newcombe, Stat Med 1998;17:857, table I (from memory)."""
    found = gaps.add_gaps(row(events, of, events + 500, of + 900)).iloc[0]
    assert (found["lower"], found["upper"]) == pytest.approx((lower, upper), abs=6e-5)


def test_gap_to_the_whole_is_carried_over_from_the_rest() -> None:
    """56 of 70 in a whole of 104 of 150: the rest is 48 of 80, as in Newcombe's example."""
    found = gaps.add_gaps(row(56, 70, 104, 150)).iloc[0]
    rest_share = 80 / 150
    assert found["gap"] == pytest.approx(56 / 70 - 104 / 150)
    assert found["gap_lower"] == pytest.approx(0.0524 * rest_share, abs=6e-5)
    assert found["gap_upper"] == pytest.approx(0.3339 * rest_share, abs=6e-5)
    low, high = katz((56, 70), (48, 80))
    expected = [1 / (70 / 150 + rest_share / end) for end in (low, high)]
    assert [found["ratio_lower"], found["ratio_upper"]] == pytest.approx(expected)
    assert found["ratio"] == pytest.approx((56 / 70) / (104 / 150))


@pytest.mark.parametrize(
    ("counted", "whole", "is_few"),
    [(29, 500, True), (30, 500, False), (470, 500, False), (471, 500, True)],
)
def test_fewer_than_thirty_have_no_gap(counted: int, whole: int, is_few: bool) -> None:
    found = gaps.add_gaps(row(0, counted, 10, whole)).iloc[0]
    assert bool(found["is_few"]) is is_few
    assert pd.isna(found["gap"]) is is_few
    assert pd.isna(found["ratio_lower"])  # none of the part: no ratio either way


def drawn(rng: np.random.Generator, groups: int, rates: np.ndarray) -> pd.DataFrame:
    """Draw a part and the rest for so many comparisons, of sizes as on the page."""
    counted = rng.integers(30, 800, groups)
    rest = rng.integers(800, 5000, groups)
    rate = rng.uniform(0.03, 0.97, groups)
    part = rng.binomial(counted, rates if rates.size else rate)
    others = rng.binomial(rest, rate)
    return pd.DataFrame(
        {
            "numerator": part,
            "counted": counted,
            "all_numerator": part + others,
            "all_counted": counted + rest,
        }
    )


def test_about_one_in_a_hundred_stands_out_where_nothing_differs() -> None:
    """The page says so; 20,000 draws, seeded. Four standard errors are 0.3 in a hundred."""
    found = gaps.add_gaps(drawn(np.random.default_rng(8), 20_000, np.array([])))
    share = (found["stands_out"] != "").mean()
    assert 0.005 < share < 0.014
    assert gaps.by_chance(20_000) == pytest.approx(200)


def test_the_shown_interval_holds_the_true_gap_as_often_as_it_says() -> None:
    """95 % intervals of a gap of nought: at least 94 of 100 hold it (20,000 draws, seeded)."""
    found = gaps.add_gaps(drawn(np.random.default_rng(9), 20_000, np.array([])))
    held = (found["gap_lower"] <= 0) & (found["gap_upper"] >= 0)
    assert 0.94 < held.mean() < 0.97
    known = found["ratio_lower"].notna()
    held_ratio = (found["ratio_lower"] <= 1) & (found["ratio_upper"] >= 1)
    assert 0.94 < held_ratio[known].mean() < 0.98


def test_rows_of_one_newborn_do_not_count_as_many() -> None:
    """A design effect of 4 leaves the interval of a quarter of the newborns (Rao, Scott 1992)."""
    clustered = gaps.add_gaps(row(224, 280, 416, 600).assign(design=4.0)).iloc[0]
    single = gaps.add_gaps(row(56, 70, 104, 150)).iloc[0]
    names = ["lower", "upper", "gap_lower", "gap_upper", "ratio_lower", "ratio_upper", "gap"]
    assert list(clustered[names]) == pytest.approx(list(single[names]))
    assert gaps.add_gaps(row(56, 70, 104, 150).assign(design=0.5)).iloc[0][
        "lower"
    ] == pytest.approx(single["lower"])
