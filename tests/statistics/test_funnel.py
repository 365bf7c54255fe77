"""Funnel limits and overdispersion against R, two libraries and the published formulas."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, norm
from statsmodels.stats.meta_analysis import combine_effects

from pipelines.statistics import funnel

from .cases import assert_agrees, case


def test_exact_limits_are_those_of_the_formula_in_r() -> None:
    """Spiegelhalter, Stat Med 2005;24:1185, appendix A.1.1; computed with R qbinom, pbinom."""
    one = case("funnel_exact_binomial_s")
    inputs = one["inputs"]
    found = funnel.binomial_limits(inputs["theta"], inputs["n"], inputs["p"], clip=False)
    assert_agrees({"limits": found.tolist()}, one)


def test_overdispersion_is_that_of_the_formulas_in_r() -> None:
    """Spiegelhalter 2005 on random groups; R 4.2.2 and numpy."""
    one = case("funnel_overdispersion_s")
    inputs = one["inputs"]
    found = funnel.spread(inputs["events"], inputs["n"], winsor=inputs["winsor"])
    assert found is not None
    assert_agrees(vars(found), one)


def test_additive_variance_is_dersimonian_and_lairds() -> None:
    """The vaccine trials of Colditz 1994, as in the documentation of metafor (from memory)."""
    one = case("dl_tau2_bcg")
    effect, variance = (np.array(one["inputs"][name]) for name in ("effect", "variance"))
    centre = (effect / variance).sum() / (1 / variance).sum()
    q = float(((effect - centre) ** 2 / variance).sum())
    assert_agrees({"Q": q, "tau2": funnel.additive_variance(q, variance)}, one)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(5, 400), st.floats(0.05, 0.95)), min_size=3, max_size=30),
)
def test_unwinsorised_variance_is_the_librarys(rows: list[tuple[int, float]]) -> None:
    """statsmodels combine_effects(method_re='dl') gives the same about its own centre."""
    of = np.array([row[0] for row in rows], float)
    events = np.round(of * np.array([row[1] for row in rows]))
    found = funnel.spread(events, of)
    if found is None:
        return
    variance = found.theta * (1 - found.theta) / of
    theirs = combine_effects(events / of, variance, method_re="dl").tau2
    assert found.tau2 == pytest.approx(max(0.0, float(theirs)), abs=1e-10)
    assert found.phi_winsor <= found.phi + 1e-12
    assert (np.abs(found.z_additive) <= np.abs(found.z) + 1e-12).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 3000), st.floats(0.02, 0.98))
def test_limits_hold_the_probability_they_say(n: int, theta: float) -> None:
    """The count nearest below a limit has less than its probability, the one above more."""
    limits = funnel.binomial_limits(theta, [n], [*funnel.OUTER, *funnel.INNER], clip=False)[:, 0]
    for limit, p in zip(limits, [*funnel.OUTER, *funnel.INNER], strict=True):
        count = limit * n
        assert binom.cdf(math.ceil(count - 1e-9), n, theta) >= p - 1e-9
        assert binom.cdf(math.floor(count + 1e-9), n, theta) <= p + 1e-6 or count == int(count)
    assert limits[0] <= limits[2] <= limits[3] <= limits[1]


def test_limits_near_the_normal_ones_where_groups_are_large() -> None:
    theta, n = 0.85, 200_000
    wide = float(norm.ppf(0.999)) * math.sqrt(theta * (1 - theta) / n)
    found = funnel.binomial_limits(theta, [n], funnel.OUTER)[:, 0]
    assert found == pytest.approx([theta - wide, theta + wide], abs=2e-5)


def test_a_plot_never_leaves_nought_to_one() -> None:
    raw = funnel.binomial_limits(0.05, [3], [0.001, 0.999], clip=False)
    assert raw[0, 0] < 0
    assert funnel.binomial_limits(0.05, [3], [0.001, 0.999])[0, 0] == 0


@pytest.mark.filterwarnings("error")
def test_nobody_none_all_and_one_group() -> None:
    limits = funnel.binomial_limits(0.5, [0, 10], funnel.INNER)
    assert np.isnan(limits[:, 0]).all() and np.isfinite(limits[:, 1]).all()
    assert (funnel.binomial_limits(0.0, [10], funnel.INNER) == 0).all()
    assert (funnel.binomial_limits(1.0, [10], funnel.INNER) == 1).all()
    assert funnel.spread([5], [10]) is None
    assert funnel.spread([5, 0], [10, 0]) is None
    assert funnel.spread([0, 0], [10, 20]) is None
    assert funnel.spread([10, 20], [10, 20]) is None
    assert funnel.spread([], []) is None
    same = funnel.spread([5, 10], [10, 20])
    assert same is not None and (same.phi, same.tau2) == (0, 0)
    with pytest.raises(ValueError, match="no share"):
        funnel.binomial_limits(1.2, [10], funnel.INNER)


@pytest.mark.parametrize(("groups", "trimmed"), [(9, 0), (10, 1), (19, 1), (20, 2), (30, 3)])
def test_winsorising_pulls_in_by_rank(groups: int, trimmed: int) -> None:
    values = np.arange(groups, dtype=float)
    found = funnel.winsorised(values)
    assert (found == np.clip(values, trimmed, groups - 1 - trimmed)).all()


def test_where_nothing_differs_phi_is_about_one_and_few_lie_outside() -> None:
    """2,000 groups drawn alike, seeded: 5 and 0.2 in a hundred outside, within four errors."""
    rng = np.random.default_rng(5)
    of = rng.integers(40, 900, 2000)
    events = rng.binomial(of, 0.8)
    found = funnel.spread(events, of)
    assert found is not None
    assert 0.88 < found.phi < 1.12
    assert found.tau2 < 1e-4
    low, high = funnel.binomial_limits(0.8, of, funnel.INNER)
    outside = ((events / of < low) | (events / of > high)).mean()
    assert 0.03 < outside < 0.07


def test_limits_widen_with_a_variance_between_groups() -> None:
    of = np.array([50.0, 400.0])
    limits = funnel.binomial_limits(0.8, of, funnel.OUTER)
    assert funnel.widened(limits, 0.8, of, 0.0) == pytest.approx(limits)
    wide = funnel.widened(limits, 0.8, of, 0.0004)
    assert (wide[0] < limits[0]).all() and (wide[1] > limits[1]).all()
    factor = math.sqrt((0.16 / 400 + 0.0004) / (0.16 / 400))
    assert 0.8 - wide[0, 1] == pytest.approx((0.8 - limits[0, 1]) * factor)
