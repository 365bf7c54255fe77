"""Control limits against published examples and other libraries' numbers."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pipelines.statistics import chance, sigma
from tests.statistics import classical
from tests.statistics.cases import assert_agrees, case

THREE_SIGMA_TAIL = stats.norm.sf(3)


def same(values: np.ndarray) -> float:
    """Return the one value that all of an array have."""
    assert np.ptp(values) < 1e-12
    return float(values[0])


def test_p_chart_of_wafers() -> None:
    """NIST/SEMATECH e-Handbook 6.3.3.2, wafers; data and limits from memory."""
    one = case("p_chart_wafers_nist")
    events, counted = (np.array(one["inputs"][name], float) for name in ("events", "n"))
    limits = classical.p_limits(chance.Share.of(events, counted), counted)
    actual = {
        "center": limits.centre,
        "lcl": same(limits.lower),
        "ucl": same(limits.upper),
        "outside": limits.outside(events / counted),
    }
    assert_agrees(actual, one)


def test_c_chart_of_wafers_and_a_value_on_the_limit_is_inside() -> None:
    """NIST/SEMATECH e-Handbook 6.3.3.1, wafer counts; data and limits from memory."""
    one = case("c_chart_wafers_nist")
    events = np.array(one["inputs"]["events"], float)
    exposure = np.ones(len(events))
    limits = classical.u_limits(chance.Rate.of(events, exposure), exposure)
    actual = {
        "center": limits.centre,
        "lcl": same(limits.lower),
        "ucl": same(limits.upper),
        "outside": limits.outside(events),
    }
    assert_agrees(actual, one)


def test_where_the_baseline_is_sure_the_pages_limits_call_the_published_wafers_alike() -> None:
    """The same two charts by the limits that pages draw, their centre taken for the truth.

    A count of quantiles is whole: at most two from the published limit, and no other wafer is
    outside but the one on the published limit of the c chart, which is inside by both.
    """
    shares, counts = case("p_chart_wafers_nist"), case("c_chart_wafers_nist")
    events, counted = (np.array(shares["inputs"][name], float) for name in ("events", "n"))
    share = chance.Share(1e6 * events.sum(), 1e6 * counted.sum())
    number = np.array(counts["inputs"]["events"], float)
    rate = chance.Rate(1e6 * number.sum(), 1e6 * len(number))
    for law, values, size, one in (
        (share, events, counted, shares),
        (rate, number, np.ones(len(number)), counts),
    ):
        limits = classical.Limits(law.centre, *law.limits(size, THREE_SIGMA_TAIL))
        assert limits.outside(values / size) == one["expected"]["outside"]
        for drawn, end in ((limits.lower, "lcl"), (limits.upper, "ucl")):
            assert abs(same(drawn) - one["expected"][end]) * size[0] < 2


def test_laney_p_prime() -> None:
    """Random overdispersed data, limits by R qcc 3.0 (read, not from memory)."""
    one = case("laney_pprime_random_s")
    events, counted = (np.array(one["inputs"][name], float) for name in ("events", "n"))
    learned = chance.Share.of(events, counted)
    limits = classical.p_limits(learned, counted, learned.sigma_z)
    actual = {
        "center": limits.centre,
        "sigma_z": learned.sigma_z,
        "lcl": limits.lower,
        "ucl": limits.upper,
    }
    assert_agrees(actual, one)


def test_laney_u_prime() -> None:
    """Random overdispersed counts, limits by R qcc 3.0 (read, not from memory)."""
    one = case("laney_uprime_random_s")
    events, exposure = (np.array(one["inputs"][name], float) for name in ("events", "exposure"))
    learned = chance.Rate.of(events, exposure)
    limits = classical.u_limits(learned, exposure, learned.sigma_z)
    actual = {
        "center": limits.centre,
        "sigma_z": learned.sigma_z,
        "lcl": limits.lower,
        "ucl": limits.upper,
    }
    assert_agrees(actual, one)


@pytest.mark.parametrize(
    "one", [case("xmr_flowrate_nist"), case("xmr_primer_viscosity")], ids=lambda one: one["id"]
)
def test_single_values(one: dict[str, Any]) -> None:
    """Data and limits from memory.

    NIST/SEMATECH e-Handbook 6.3.2.2, flow rate; Montgomery, aircraft primer paint viscosity.
    """
    values = np.array(one["inputs"]["x"], float)
    learned = chance.Level.of(values)
    limits = classical.around(learned.mean, learned.sigma)
    mean_range = sigma.moving_ranges(values).mean()
    actual = {
        "center": limits.centre,
        "mr_bar": mean_range,
        "lcl": limits.lower,
        "ucl": limits.upper,
        "mr_ucl": classical.D4_OF_TWO * mean_range,
    }
    assert_agrees(actual, one)


def test_means_of_unequal_subgroups_by_both_estimates_of_sigma() -> None:
    """Random temperatures, limits by R qcc 3.0, both estimators (read, not from memory)."""
    one = case("xbars_random_s")
    groups = one["inputs"]["subgroups"]
    pooled = classical.xbar_s_limits(groups)
    plain = classical.xbar_s_limits(groups, is_pooled=False)
    blocks = {
        name: {"sigma": chart.sigma, "xbar_lcl": chart.means.lower, "xbar_ucl": chart.means.upper}
        for name, chart in (("unweighted_s_over_c4", plain), ("pooled_rms_over_c4", pooled))
    }
    assert_agrees({"center": pooled.means.centre, "sds": pooled.sds, **blocks}, one)


def test_a_subgroup_of_one_has_no_sd_and_is_left_out_of_sigma() -> None:
    """c4 at 5 is 0.9400 (published tables, from memory)."""
    chart = classical.xbar_s_limits([[36.5, 36.7, 36.9], [37.0], [36.4, 36.8]])
    without = classical.xbar_s_limits([[36.5, 36.7, 36.9], [36.4, 36.8]])
    assert np.isnan(chart.sds[1]) and chart.sigma == pytest.approx(without.sigma)
    assert classical.c4(5) == pytest.approx(0.9400, abs=5e-5)


@settings(max_examples=50, deadline=None)
@given(
    numerator=st.integers(0, 300),
    extra=st.integers(0, 300),
    size=st.integers(1, 200),
    tail=st.sampled_from([0.00135, 0.01, 0.1]),
)
def test_limits_of_shares_are_beta_binomial_quantiles(
    numerator: int, extra: int, size: int, tail: float
) -> None:
    """scipy.stats.betabinom with a Jeffreys prior: the same quantiles by another road."""
    counted = numerator + extra + 1
    law = stats.betabinom(size, numerator + 0.5, counted - numerator + 0.5)
    model = chance.Share(numerator, counted)
    lower, upper = model.limits(np.array([float(size)]), tail)
    low, high = round(lower[0] * size), round(upper[0] * size)
    # A value within rounding of the tail may fall on either side of it.
    assert law.cdf(low) >= tail - 1e-9 and (low == 0 or law.cdf(low - 1) < tail + 1e-9)
    assert law.sf(high - 1) >= tail - 1e-9 and (high == size or law.sf(high) < tail + 1e-9)
    at_most, at_least = model.tails(np.array([float(low)]), np.array([float(size)]), 1)
    assert at_most[0] == pytest.approx(law.cdf(low), abs=1e-9)
    assert at_least[0] == pytest.approx(law.sf(low - 1), abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(
    numerator=st.integers(1, 900),
    extra=st.integers(1, 900),
    size=st.integers(5, 400),
    sigma_z=st.floats(1.05, 3.0),
)
def test_overdispersed_shares_have_the_stated_variance(
    numerator: int, extra: int, size: int, sigma_z: float
) -> None:
    """Variance of a share p q s^2 (1/size + 1/counted); scipy's beta-binomial gives it back."""
    counted = numerator + extra
    model = chance.Share(numerator, counted, sigma_z, 8.7)
    alpha, beta = (float(each[0]) for each in model._beta(np.array([float(size)])))
    mean = (numerator + 0.5) / (counted + 1)
    wanted = mean * (1 - mean) * sigma_z**2 * (1 / size + 1 / counted)
    if (wanted / (mean * (1 - mean)) - 1 / size) / (1 - 1 / size) > 0.98:
        return  # no law of births within one month varies more
    assert stats.betabinom(size, alpha, beta).var() / size**2 == pytest.approx(wanted, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(events=st.integers(0, 200), exposure=st.integers(1, 2000), size=st.integers(1, 300))
def test_limits_of_rates_are_gamma_poisson_quantiles(events: int, exposure: int, size: int) -> None:
    """A Poisson count whose rate is gamma: averaged over scipy's gamma quantiles instead."""
    grid = (np.arange(20_000) + 0.5) / 20_000
    rates = stats.gamma.ppf(grid, events + 0.5, scale=1 / exposure)
    model = chance.Rate(events, exposure)
    count = np.array([0.0, 1.0, np.ceil(size * events / exposure)])
    at_most, at_least = model.tails(count, np.full(3, float(size)), 1)
    for place, number in enumerate(count):
        assert at_most[place] == pytest.approx(
            stats.poisson.cdf(number, rates * size).mean(), abs=2e-4
        )
        assert at_least[place] == pytest.approx(
            stats.poisson.sf(number - 1, rates * size).mean(), abs=2e-4
        )


def test_limits_hold_what_they_promise_where_the_baseline_is_uncertain() -> None:
    """Of new months of a unit at 80 %, at most twice 0.00135 lie outside, on average.

    Simulated: a baseline of 12 months and one more. Three sigma around the baseline's rate,
    taken for the truth, lets more than that out.
    """
    rng = np.random.default_rng(7)
    met, new = rng.binomial(20, 0.8, (4000, 12)), rng.binomial(20, 0.8, 4000)
    size = np.array([20.0])
    bounds = [chance.Share(float(row.sum()), 240.0).limits(size, 0.00135) for row in met]
    out = [
        not low[0] * 20 - 1e-9 <= value <= high[0] * 20 + 1e-9
        for (low, high), value in zip(bounds, new, strict=True)
    ]
    classical = [
        abs(value / 20 - row.sum() / 240) > 3 * sigma.share_sigma(row.sum() / 240, 20)
        for row, value in zip(met, new, strict=True)
    ]
    assert 0 < np.mean(out) <= 0.0027 < np.mean(classical)


@given(st.floats(0.1, 50), st.lists(st.floats(10, 90), min_size=4, max_size=30))
def test_single_values_scale_with_their_unit(factor: float, values: list[float]) -> None:
    """Minutes or hours: limits follow the unit."""
    size, charted = np.ones(1), np.array(values)
    one, other = chance.Level.of(charted), chance.Level.of(charted * factor)
    for end, scaled in zip(one.limits(size, 0.01), other.limits(size, 0.01), strict=True):
        assert scaled[0] == pytest.approx(end[0] * factor, abs=1e-6)


def test_freedom_of_a_mean_moving_range_is_that_of_simulated_ones() -> None:
    """Cryer and Ryan 1990 (from memory): the mean range of 12 normal values."""
    rng = np.random.default_rng(11)
    means = np.abs(np.diff(rng.normal(size=(60_000, 12)), axis=1)).mean(axis=1)
    simulated = means.mean() ** 2 / means.var() / 2
    assert sigma.range_freedom(12) == pytest.approx(simulated, rel=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("periods", [1, 6])
def test_values_measured_after_a_baseline_leave_the_tail_that_was_asked_for(periods: int) -> None:
    """Simulated: 12 normal values, then one more, or six together; a tail of 5 % either side."""
    rng = np.random.default_rng(13)
    size = np.ones(1)
    out = []
    for values in rng.normal(40, 4, (3000, 12 + periods)):
        model = chance.Level.of(values[:12])
        low, high = model.tails(np.array([values[12:].sum()]), size, periods)
        out.append(min(low[0], high[0]) < 0.05)
        if periods == 1:
            lower, upper = model.limits(size, 0.05)
            assert out[-1] == (not lower[0] <= values[12] <= upper[0])
    assert np.mean(out) == pytest.approx(0.10, abs=0.02)


def test_sigma_of_z_is_used_only_where_the_baseline_is_overdispersed() -> None:
    counted = np.full(12, 100.0)
    calm = chance.Share.of(np.array([80, 81, 79, 80, 82, 78, 80, 81, 79, 80, 79, 81.0]), counted)
    wild = chance.Share.of(np.array([60, 90, 70, 95, 65, 88, 72, 92, 61, 89, 70, 94.0]), counted)
    assert calm.sigma_z == 1 and calm.level(0.00135) == 0.00135
    assert wild.sigma_z > 3 and wild.level(0.00135) < 0.0001
    narrow, wide = (each.limits(np.array([100.0]), each.level(0.00135)) for each in (calm, wild))
    assert wide[0][0] < narrow[0][0] < narrow[1][0] < wide[1][0]
