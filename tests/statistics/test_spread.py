"""Means and spreads: the constants of handbooks, R's limits, and how often spreads cry wolf."""

import doctest

import numpy as np
import pytest

from pipelines.statistics import spread
from pipelines.statistics.spread import Within
from tests.statistics import classical
from tests.statistics.cases import assert_agrees, case

# Montgomery, Introduction to Statistical Quality Control, appendix VI: n: c4, A3, B3, B4.
# From memory; each one agrees with its definition to the printed digits.
TABLE = {
    2: (0.7979, 2.659, 0.0, 3.267),
    3: (0.8862, 1.954, 0.0, 2.568),
    4: (0.9213, 1.628, 0.0, 2.266),
    5: (0.9400, 1.427, 0.0, 2.089),
    6: (0.9515, 1.287, 0.030, 1.970),
    8: (0.9650, 1.099, 0.185, 1.815),
    10: (0.9727, 0.975, 0.284, 1.716),
    15: (0.9823, 0.789, 0.428, 1.572),
    20: (0.9869, 0.680, 0.510, 1.490),
    25: (0.9896, 0.606, 0.565, 1.435),
}


def test_examples_in_docstrings() -> None:
    assert doctest.testmod(spread).failed == 0


@pytest.mark.parametrize("size", TABLE)
def test_the_constants_are_those_of_the_handbook(size: int) -> None:
    c4, a3, b3, b4 = TABLE[size]
    assert float(spread.c4(size)) == pytest.approx(c4, abs=6e-5)
    assert float(spread.a3(size)) == pytest.approx(a3, abs=6e-4)
    low, high = spread.b3_b4(size)
    assert (float(low), float(high)) == pytest.approx((b3, b4), abs=6e-4)


def test_c4_is_the_mean_sd_of_normal_readings() -> None:
    drawn = np.random.default_rng(3).normal(size=(200_000, 4)).std(axis=1, ddof=1)
    assert drawn.mean() == pytest.approx(float(spread.c4(4)), abs=0.003)
    assert float(spread.c4(4)) == pytest.approx(float(classical.c4(4)), abs=1e-12)


def test_limits_of_means_are_those_of_r_for_random_temperatures() -> None:
    """R qcc 3.0, unequal n; sigma from the pooled SD over c4 (the case's second block)."""
    one = case("xbars_random_s")
    groups = [np.array(each) for each in one["inputs"]["subgroups"]]
    sizes = np.array([len(each) for each in groups], float)
    means = np.array([each.mean() for each in groups])
    sds = np.array([each.std(ddof=1) for each in groups])
    centre = float((means * sizes).sum() / sizes.sum())
    within = Within.of(means, sds, sizes)
    lower, upper = within.mean_limits(centre, sizes)
    assert_agrees(
        {
            "center": centre,
            "sds": sds.tolist(),
            "pooled_rms_over_c4": {
                "sigma": within.sigma,
                "xbar_lcl": lower.tolist(),
                "xbar_ucl": upper.tolist(),
            },
            "unweighted_s_over_c4": one["expected"]["unweighted_s_over_c4"],  # the other estimator
        },
        one,
    )


def months(rng: np.random.Generator, number: int, size: int, heavy: bool) -> tuple[np.ndarray, ...]:
    drawn = rng.standard_t(5, (number, size)) if heavy else rng.normal(size=(number, size))
    return drawn.mean(axis=1), drawn.std(axis=1, ddof=1), np.full(number, float(size))


@pytest.mark.parametrize("heavy", [False, True])
@pytest.mark.parametrize("size", [10, 100])
def test_with_nothing_going_on_few_spreads_cry_wolf(heavy: bool, size: int) -> None:
    """Limits of the first twelve of 24 months, normal readings and heavy tails (t of 5)."""
    rng = np.random.default_rng([20261130, size, heavy])
    spoken = []
    for _ in range(400):
        means, sds, sizes = months(rng, 24, size, heavy)
        within = Within.of(means[:12], sds[:12], sizes[:12])
        _, low, high = within.sd_limits(sizes)
        spoken.append(bool(((sds < low) | (sds > high)).any()))
    assert np.mean(spoken) < 0.10


def test_a_wider_spread_is_seen_and_months_apart_are_measured() -> None:
    rng = np.random.default_rng(9)
    means, sds, sizes = months(rng, 12, 100, heavy=False)
    within = Within.of(means, sds, sizes)
    _, low, high = within.sd_limits(np.array([100.0]))
    assert low[0] < 1 < high[0] < 1.4
    assert within.between == pytest.approx(1.0, abs=0.6)
    apart = Within.of(means + np.resize([0.5, -0.5], 12), sds, sizes)
    assert apart.between > 5
