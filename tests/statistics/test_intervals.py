"""Intervals against published tables, libraries, and what an interval promises."""

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, binomtest, chi2, norm

from pipelines.statistics import intervals
from pipelines.statistics.chance import Share

from .cases import assert_agrees, case
from .classical import clopper_pearson


def jeffreys(events: int, of: int, level: float = 0.95) -> list[float]:
    """Return the interval that Jeffreys' prior leaves: what limits take a baseline's rate for."""
    return [float(end) for end in Share(events, of).rates([(1 - level) / 2, (1 + level) / 2])]


def pair(bounds: intervals.Bounds) -> list[float]:
    return [float(bounds[0]), float(bounds[1])]


@pytest.mark.parametrize(
    "one", [case("binom_newcombe_81_263"), case("binom_newcombe_0_20")], ids=lambda one: one["id"]
)
def test_newcombes_table_of_shares(one: dict[str, Any]) -> None:
    """Newcombe, Stat Med 1998;17:857, table I (from memory)."""
    events, n, level = (one["inputs"][name] for name in ("events", "n", "level"))
    found = {
        "wilson": pair(intervals.wilson(events, n, level)),
        "clopper_pearson": clopper_pearson(events, n, level),
    }
    # The continuity-corrected one of the table is not offered here.
    wanted = {name: limits for name, limits in one["expected"].items() if name in found}
    assert len(wanted) == 2
    assert_agrees(found, {**one, "expected": wanted})


def test_jeffreys_is_that_of_brown_cai_and_dasgupta() -> None:
    """Stat Sci 2001;16:101, table of Jeffreys limits for n = 7 (from memory)."""
    one = case("binom_jeffreys_bcd_2_7")
    inputs = one["inputs"]
    found = jeffreys(inputs["events"], inputs["n"], inputs["level"])
    assert_agrees({"jeffreys": found}, one)


def test_shares_agree_with_the_libraries() -> None:
    """Computed with statsmodels 0.15, cross-checked with scipy."""
    one = case("binom_library_s")
    found = {
        f"{events}/{n}": {
            "wilson": pair(intervals.wilson(events, n)),
            "clopper_pearson": clopper_pearson(events, n),
            "jeffreys_raw": jeffreys(events, n),
        }
        for events, n in one["inputs"]["pairs"]
    }
    assert_agrees(found, one)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 400), st.floats(0, 1), st.sampled_from([0.8, 0.95, 0.998]))
def test_shares_agree_with_scipy_on_any_counts(n: int, share: float, level: float) -> None:
    """scipy.stats.binomtest (Wilson, exact)."""
    events = round(share * n)
    test = binomtest(events, n)
    found = {
        "wilson": pair(intervals.wilson(events, n, level)),
        "exact": clopper_pearson(events, n, level),
    }
    for method, ours in found.items():
        theirs = test.proportion_ci(level, method=method)
        assert ours == pytest.approx([theirs.low, theirs.high], abs=1e-9)


def test_ends_are_whole_where_none_or_all_had_it() -> None:
    """The formula's own."""
    lower, upper = intervals.wilson([0, 14], [14, 14])
    assert lower[0] == 0.0
    assert upper[1] == 1.0
    assert 0 < upper[0] < 0.3 and 0.7 < lower[1] < 1


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 300), st.integers(1, 300))
def test_a_share_lies_in_its_interval_and_the_other_side_mirrors_it(some: int, n: int) -> None:
    events = min(some, n)
    low, high = pair(intervals.wilson(events, n))
    assert 0 <= low <= events / n <= high <= 1
    mirrored = pair(intervals.wilson(n - events, n))
    assert [1 - high, 1 - low] == pytest.approx(mirrored, abs=1e-9)
    wide_low, wide_high = pair(intervals.wilson(events, n, 0.99))
    assert wide_low <= low and high <= wide_high


def coverage(interval: Callable[[int, int], Sequence[Any]], n: int, p: np.ndarray) -> np.ndarray:
    """Return how often, exactly, the interval holds each true share of ``p``."""
    low, high = np.array([interval(events, n) for events in range(n + 1)], float).T
    held = (low[None, :] <= p[:, None]) & (p[:, None] <= high[None, :])
    return np.asarray((held * binom.pmf(np.arange(n + 1)[None, :], n, p[:, None])).sum(axis=1))


@pytest.mark.parametrize("n", [25, 100])
def test_how_often_they_hold_is_as_brown_cai_and_dasgupta_found(n: int) -> None:
    """Stat Sci 2001;16:101: Wilson and Jeffreys hold about 95 of 100 on average, the exact one
    never fewer and on average more; the plain normal one (not offered) far fewer near the ends.
    """
    p = np.linspace(0.005, 0.995, 397)
    every = (intervals.wilson, clopper_pearson, jeffreys)
    wilson, exact, by_prior = (coverage(one, n, p) for one in every)
    assert exact.min() >= 0.95 - 1e-9
    assert 0.945 < wilson.mean() < 0.962
    assert 0.94 < by_prior.mean() < 0.96
    assert exact.mean() > wilson.mean()
    assert wilson.min() > 0.80 and by_prior.min() > 0.80


def test_exact_rates_are_garwoods() -> None:
    """Garwood 1936; Breslow and Day 1987, table of exact Poisson limits (from memory)."""
    one = case("rate_garwood_s")
    lower, upper = intervals.garwood(one["inputs"]["events"], level=one["inputs"]["level"])
    assert_agrees({"limits": np.column_stack([lower, upper]).tolist()}, one)


def test_rates_agree_with_the_library() -> None:
    """Computed with statsmodels 0.15 confint_poisson; scipy chi2."""
    one = case("rate_library_s")
    inputs = one["inputs"]
    events, exposure, per = inputs["events"], inputs["exposure"], inputs["per"]
    found = {
        "rate": [per * some / exposure for some in events],
        "exact": (per * np.column_stack(intervals.garwood(events, exposure))).tolist(),
    }
    # The score interval of the case is not offered here.
    wanted = {name: limits for name, limits in one["expected"].items() if name in found}
    assert len(wanted) == 2
    assert_agrees(found, {**one, "expected": wanted})


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 500), st.floats(0.5, 5000), st.sampled_from([0.9, 0.95, 0.99]))
def test_exact_rates_are_quantiles_of_chi_squared(some: int, span: float, level: float) -> None:
    """Garwood's relation, with scipy.stats.chi2."""
    tail = (1 - level) / 2
    lower = chi2.ppf(tail, 2 * some) / 2 / span if some else 0.0
    upper = chi2.isf(tail, 2 * some + 2) / 2 / span
    assert pair(intervals.garwood(some, span, level)) == pytest.approx([lower, upper], rel=1e-7)


# part, rest, lower, upper: Newcombe, Stat Med 1998;17:873, table II, method 10 (from memory).
NEWCOMBE = [
    ((56, 70), (48, 80), 0.0524, 0.3339),
    ((9, 10), (3, 10), 0.1705, 0.8090),
    ((6, 7), (2, 7), 0.0582, 0.8062),
    ((5, 56), (0, 29), -0.0381, 0.1926),
    ((0, 10), (0, 20), -0.1611, 0.2775),
    ((0, 10), (0, 10), -0.2775, 0.2775),
    ((10, 10), (0, 20), 0.6791, 1.0000),
    ((10, 10), (0, 10), 0.6075, 1.0000),
]


@pytest.mark.parametrize(("part", "rest", "lower", "upper"), NEWCOMBE)
def test_differences_are_newcombes(
    part: tuple[int, int], rest: tuple[int, int], lower: float, upper: float
) -> None:
    assert pair(intervals.difference(part, rest)) == pytest.approx([lower, upper], abs=6e-5)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 40), st.integers(1, 40), st.integers(0, 90), st.integers(1, 90))
def test_a_difference_follows_from_the_two_wilson_intervals(a: int, m: int, b: int, n: int) -> None:
    """The formula of Newcombe's method 10, and that it turns its sign when the two swap."""
    a, b = min(a, m), min(b, n)
    (l1, u1), (l2, u2) = pair(intervals.wilson(a, m)), pair(intervals.wilson(b, n))
    gap = a / m - b / n
    expected = [gap - math.hypot(a / m - l1, u2 - b / n), gap + math.hypot(u1 - a / m, b / n - l2)]
    found = pair(intervals.difference((a, m), (b, n)))
    assert found == pytest.approx(expected, abs=1e-9)
    swapped = pair(intervals.difference((b, n), (a, m)))
    assert [-found[1], -found[0]] == pytest.approx(swapped, abs=1e-9)


def test_a_ratio_is_katz_and_others() -> None:
    """The formula of Biometrics 1978;34:469, by hand."""
    error = math.sqrt(1 / 56 - 1 / 70 + 1 / 48 - 1 / 80)
    wide = float(norm.ppf(0.975)) * error
    expected = [(0.8 / 0.6) * math.exp(-wide), (0.8 / 0.6) * math.exp(wide)]
    assert pair(intervals.ratio((56, 70), (48, 80))) == pytest.approx(expected, rel=1e-9)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("of", [0, float("nan")])
def test_of_nobody_there_is_no_interval_and_no_warning(of: float) -> None:
    for interval in (intervals.wilson, intervals.garwood):
        lower, upper = interval([0, 1], [of, 4])
        assert math.isnan(lower[0]) and math.isnan(upper[0])
        assert math.isfinite(lower[1]) and math.isfinite(upper[1])
    for of_two in (intervals.difference, intervals.ratio):
        lower, upper = of_two(([0, 1], [of, 4]), ([1, 1], [3, 3]))
        assert math.isnan(lower[0]) and math.isnan(upper[0])
        assert math.isfinite(lower[1]) and math.isfinite(upper[1])


@pytest.mark.parametrize(("events", "of"), [(5, 3), (-1, 3)])
def test_more_than_could_happen_is_refused(events: int, of: int) -> None:
    with pytest.raises(ValueError, match=f"{events} of 3"):
        intervals.wilson([1, events], [3, of])
    with pytest.raises(ValueError, match="not be below nought"):
        intervals.garwood(-1, 3)
