"""The course of a share around a change against R, a general library, and known effects."""

import doctest
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from pipelines.statistics import beside, effects, interrupted, learned, shrunk
from pipelines.statistics.effects import Span
from pipelines.statistics.interrupted import (
    PLAIN,
    PRIORS,
    NotFittedError,
    Priors,
    Series,
    Split,
    Values,
)

from .cases import assert_agrees, case

MONTHS = np.arange(24)
HALF = Split(12, 12)
FREE = Priors(level=1e4, trend=1e4, slope_change=1e4, bend=0, season=0, step=1e4)


def made(events: np.ndarray, total: np.ndarray | float = 200.0) -> Series:
    return Series(MONTHS, events.astype(float), np.broadcast_to(total, 24).astype(float))


def shares(before: float, after: float, total: float = 200.0) -> Series:
    """A series with a step and as much ripple as makes its variance about binomial."""
    ripple = np.tile([0.03, -0.03, 0.01, -0.01], 6)
    share = np.where(MONTHS < 12, before, after) + ripple
    return made(np.round(share * total), total)


def values(before: float, after: float, spread: float = 0.4) -> Values:
    ripple = np.tile([0.02, -0.02, 0.01, -0.01], 6)
    mean = np.where(MONTHS < 12, before, after) + ripple
    return Values(MONTHS, mean, np.full(24, spread), np.full(24, 250.0))


def test_examples_in_docstrings() -> None:
    assert doctest.testmod(interrupted).failed == 0


def test_without_priors_the_course_is_the_binomial_regression_of_r() -> None:
    """R 4.2.2 glm; computed for this case, not recalled. R counts months from the first on."""
    one = case("its_binomial_s")
    told = one["inputs"]
    series = Series(np.array(told["time"]), np.array(told["events"], float),
                    np.array(told["n"], float))  # fmt: skip
    split = Split(told["break_after"] + 1, told["break_after"] + 1)
    columns, spread = interrupted.design(series.month, split), FREE.spread()
    found = interrupted.most_likely(columns, series, spread)
    value, variance = interrupted._linearised(columns @ found, series)
    mean, covariance, _ = shrunk.solve(columns, value, np.diag(variance)[None], spread)
    back = np.eye(len(found))
    back[0, 1] = -split.after_from  # the level where the month is 0
    level = back @ mean[0]
    errors = np.sqrt(np.diag(back @ covariance[0] @ back.T))
    assert_agrees({"binomial_coef": level[:4], "binomial_se": errors[:4]}, _as_lists(one))


def _as_lists(one: dict) -> dict:
    return {**one, "expected": {key: list(each) for key, each in one["expected"].items()}}


def test_the_closed_form_is_the_gaussian_one() -> None:
    """Conditioning the joint normal distribution of coefficients and months, by scipy and hand."""
    rng = np.random.default_rng(5)
    columns, spread = rng.normal(size=(9, 3)), np.array([2.0, 0.5, 1.0])
    variance = np.diag(rng.uniform(0.5, 2, 9)) + 0.3
    value = rng.normal(size=9)
    mean, covariance, likelihood = shrunk.solve(columns, value, variance[None], spread)
    prior = np.diag(spread**2)
    whole = columns @ prior @ columns.T + variance
    gain = prior @ columns.T @ np.linalg.inv(whole)
    assert mean[0] == pytest.approx(gain @ value)
    assert covariance[0] == pytest.approx(prior - gain @ columns @ prior)
    other = variance * 1.7
    apart = shrunk.solve(columns, value, other[None], spread)[2] - likelihood
    truth = [
        stats.multivariate_normal.logpdf(value, cov=columns @ prior @ columns.T + each)
        for each in (variance, other)
    ]
    assert apart[0] == pytest.approx(truth[1] - truth[0])


def test_plain_before_and_after_is_the_difference_of_the_pooled_shares() -> None:
    series = shares(0.7, 0.8)
    found = effects.effect(interrupted.fit(series, HALF, PLAIN)).points
    before, after = (series.events[part].sum() / series.total[part].sum() for part in (
        MONTHS < 12, MONTHS >= 12))  # fmt: skip
    assert found.guess == pytest.approx(after - before, abs=2e-3)


def test_plain_interval_is_that_of_two_shares() -> None:
    """Months that vary by chance alone: near the interval of Newcombe (1998) for a difference."""
    from pipelines.statistics.intervals import difference

    found = effects.effect(interrupted.fit(shares(0.7, 0.8, 400), HALF, PLAIN)).points
    lower, upper = difference((0.8 * 4800, 4800.0), (0.7 * 4800, 4800.0))
    assert found.lower == pytest.approx(lower, abs=0.012)
    assert found.upper == pytest.approx(upper, abs=0.012)
    assert found.upper - found.lower > upper - lower  # what months add beyond chance is not known


@pytest.mark.parametrize("step", [-0.15, -0.05, 0.05, 0.15])
def test_a_known_step_is_found(step: float) -> None:
    found = effects.effect(interrupted.fit(shares(0.7, 0.7 + step), HALF)).points
    assert found.lower < step < found.upper
    assert abs(found.guess - step) < 0.04


def test_a_trend_before_is_not_an_effect() -> None:
    """A rise of a point a month through both years: plain before and after calls it 12 points."""
    ripple = np.tile([0.01, -0.01], 12)
    series = made(np.round(2000 * (0.5 + 0.01 * MONTHS + ripple)), 2000.0)
    plain = effects.effect(interrupted.fit(series, HALF, PLAIN)).points
    segmented = effects.effect(interrupted.fit(series, HALF)).points
    assert plain.lower > 0.05
    assert not segmented.leaves_out_zero
    assert abs(segmented.guess) < 0.04


def test_a_season_is_not_an_effect() -> None:
    """A yearly wave with its rise after the change, one year each side."""
    series = made(np.round(2000 * (0.7 + 0.05 * np.sin(2 * np.pi * MONTHS / 12))), 2000.0)
    assert not effects.effect(interrupted.fit(series, HALF)).points.leaves_out_zero


def test_a_narrow_prior_holds_a_trend_and_a_wide_one_lets_it_go() -> None:
    rising = np.round(200 * (0.5 + 0.012 * MONTHS))
    tight, loose = (
        effects.effect(interrupted.fit(made(rising), HALF, replace(PRIORS, trend=each))).points
        for each in (0.001, 0.5)
    )
    assert tight.guess > 0.08
    assert abs(loose.guess) < 0.03
    assert loose.upper - loose.lower > 1.5 * (tight.upper - tight.lower)


def test_months_that_differ_beyond_chance_widen_the_interval() -> None:
    jump = np.tile([0.08, -0.08], 12)
    even = interrupted.fit(shares(0.7, 0.8), HALF)
    rough = interrupted.fit(made(np.round(200 * (np.where(MONTHS < 12, 0.7, 0.8) + jump))), HALF)
    assert rough.posterior.apart > 3 * even.posterior.apart
    one, two = (effects.effect(each).points for each in (even, rough))
    assert two.upper - two.lower > one.upper - one.lower


def test_neighbours_alike_are_noticed_and_widen_the_interval() -> None:
    """Runs of four months against the same months shuffled."""
    runs = np.repeat([0.08, -0.08, 0.06, -0.06, 0.08, -0.08], 4)
    mixed = np.random.default_rng(1).permutation(runs)
    found = [
        interrupted.fit(made(np.round(400 * (0.7 + each)), 400.0), HALF) for each in (runs, mixed)
    ]
    assert found[0].posterior.alike > found[1].posterior.alike + 0.1


def test_counting_the_others_turns_the_effect_around() -> None:
    """What happened to those who met it happened, the other way, to those who did not."""
    series = shares(0.7, 0.8)
    other = Series(series.month, series.total - series.events, series.total)
    one, two = (effects.effect(interrupted.fit(each, HALF)).points for each in (series, other))
    assert one.guess == pytest.approx(-two.guess, abs=1e-9)
    assert one.lower == pytest.approx(-two.upper, abs=1e-6)


def test_where_months_are_numbered_from_does_not_matter() -> None:
    """A whole number of years later: the same wave, the same answer."""
    series = shares(0.7, 0.8)
    later = Series(series.month + 1200, series.events, series.total)
    one = effects.effect(interrupted.fit(series, HALF)).points
    two = effects.effect(interrupted.fit(later, Split(1212, 1212))).points
    assert (one.guess, one.lower, one.upper) == pytest.approx((two.guess, two.lower, two.upper))


def test_a_month_without_newborns_keeps_its_place() -> None:
    series = shares(0.7, 0.8)
    total = series.total.copy()
    total[[4, 17]] = 0
    gapped = Series(series.month, np.minimum(series.events, total), total)
    fit = interrupted.fit(gapped, HALF)
    assert len(fit.month) == 22
    assert fit.design(fit.month)[4, 1] == 5 - 12  # months to the change, though one is missing


def test_newborns_a_month_are_points_times_newborns() -> None:
    found = effects.effect(interrupted.fit(shares(0.7, 0.8), HALF))
    assert found.newborns_a_month.guess == pytest.approx(200 * found.points.guess)
    assert found.months == 12


def test_effect_counts_a_year_at_most() -> None:
    month = np.arange(40)
    share = np.where(month < 12, 0.7, 0.8) + np.tile([0.02, -0.02], 20)
    series = Series(month, np.round(200 * share), np.full(40, 200.0))
    fit = interrupted.fit(series, HALF)
    assert effects.effect(fit).months == 12
    assert effects.effect(fit, most=None).months == 28


def test_chances_are_those_of_the_interval() -> None:
    """One in forty lies beyond each end, and the chance of more falls as more is asked."""
    found = effects.effect(interrupted.fit(shares(0.7, 0.76), HALF))
    assert found.chance_above(found.points.lower) == pytest.approx(0.975, abs=0.003)
    assert found.chance_above(found.points.upper) == pytest.approx(0.025, abs=0.003)
    asked = [found.chance_above(each) for each in (-0.1, 0, 0.03, 0.1)]
    assert asked == sorted(asked, reverse=True)


def test_the_likely_effects_are_normal_in_log_odds() -> None:
    """Against scipy: the step alone has the chance of its normal distribution."""
    covariance = np.array([[0.04, -0.01], [-0.01, 0.02]])
    likely = effects.likely_points(0.3, 1.0, covariance)
    assert (likely > 0).mean() == pytest.approx(stats.norm.cdf(0.3 / 0.2), abs=0.003)


# ---- measured values


def test_a_mean_that_rises_is_found_in_its_own_unit() -> None:
    fit = interrupted.fit_values(values(36.6, 36.75), HALF)
    found = effects.effect(fit)
    assert found.points.lower < 0.15 < found.points.upper
    assert found.points.guess == pytest.approx(0.15, abs=0.03)
    assert found.fitted == pytest.approx(36.75, abs=0.03)


def test_a_mean_sees_what_a_share_of_the_same_newborns_does_not() -> None:
    """A tenth of a standard deviation, of the same readings cut at a limit."""
    mean = np.where(MONTHS < 12, 36.9, 36.94)
    share = stats.norm.sf(36.5, mean, 0.4)
    cut = interrupted.fit(made(np.round(250 * share), 250.0), HALF)
    read = interrupted.fit_values(Values(MONTHS, mean, np.full(24, 0.4), np.full(24, 250.0)), HALF)
    as_share, as_value = effects.effect(cut).points, effects.effect(read).points
    per_error = [one.guess / (one.upper - one.lower) for one in (as_share, as_value)]
    assert per_error[1] > 1.5 * per_error[0]


def test_a_value_scaled_is_the_same_answer_scaled() -> None:
    one = values(36.6, 36.7)
    two = Values(one.month, one.mean * 10, one.spread * 10, one.total)
    first, second = (
        effects.effect(interrupted.fit_values(each, HALF)).points for each in (one, two)
    )
    assert second.lower == pytest.approx(10 * first.lower, rel=1e-3)
    assert second.upper == pytest.approx(10 * first.upper, rel=1e-3)


def test_a_value_that_never_varies_is_not_analysed() -> None:
    with pytest.raises(NotFittedError, match=interrupted.NEVER):
        interrupted.fit_values(values(36.6, 36.7, spread=0.0), HALF)


# ---- beside a unit without the change


def test_against_a_unit_where_the_same_happened_nothing_is_left() -> None:
    here = interrupted.fit(shares(0.7, 0.85), HALF)
    same = beside.difference(here, interrupted.fit(shares(0.6, 0.78), HALF))
    other = beside.difference(here, interrupted.fit(shares(0.7, 0.7), HALF))
    assert not same.leaves_out_zero
    assert other.lower > 0
    assert other.guess == pytest.approx(0.15, abs=0.03)


def test_what_both_units_share_makes_the_interval_narrower() -> None:
    """Both drift alike: the joint answer is surer than the two errors taken as strangers."""
    drift = 0.01 * MONTHS
    here = interrupted.fit(made(np.round(800 * (0.5 + drift + 0.08 * (MONTHS >= 12))), 800.0), HALF)
    there = interrupted.fit(made(np.round(800 * (0.5 + drift)), 800.0), HALF)
    found = beside.difference(here, there)
    apart = [effects.effect(each).points for each in (here, there)]
    strangers = np.hypot(*(one.upper - one.lower for one in apart))
    assert found.upper - found.lower < 0.8 * strangers
    assert found.lower < 0.08 < found.upper


# ---- learned priors


def test_priors_are_learned_from_the_units_other_measures() -> None:
    month = np.arange(30)

    def course(trend: float) -> Series:
        linear = 0.5 + trend * (month - 15)
        return Series(month, np.round(2000 / (1 + np.exp(-linear))), np.full(30, 2000.0))

    steady, _ = learned.learned([course(0.0)] * 30)
    restless, number = learned.learned([course(each) for each in (0.08, -0.08) for _ in range(15)])
    nothing, none = learned.learned([])
    assert (number, none, nothing) == (30, 0, PRIORS)
    bounds = shrunk.numbers()["learned"]["trend"]
    assert bounds[0] == PRIORS.trend == steady.trend < restless.trend <= bounds[1]


def test_drift_is_the_slope_since_the_change() -> None:
    share = np.where(MONTHS < 12, 0.6, 0.6 + 0.01 * (MONTHS - 12)) + np.tile([0.01, -0.01], 12)
    drift = effects.drift(interrupted.fit(made(np.round(2000 * share), 2000.0), HALF))
    assert drift.guess == pytest.approx(0.01, abs=0.003)
    assert drift.lower > 0


BAD = {
    "no newborns at all": (made(np.zeros(24), 0.0), HALF, interrupted.NO_NEWBORNS),
    "never": (made(np.zeros(24)), HALF, interrupted.NEVER),
    "always": (made(np.full(24, 200)), HALF, interrupted.ALWAYS),
    "all before, none after": (
        made(np.where(MONTHS < 12, 200, 0)), HALF, interrupted.FEW_EVENTS,
    ),
    "change before the data": (shares(0.7, 0.8), Split(-5, -5), interrupted.NONE_BEFORE),
    "change in the first month": (shares(0.7, 0.8), Split(0, 0), interrupted.NONE_BEFORE),
    "change after the data": (shares(0.7, 0.8), Split(99, 99), interrupted.NONE_AFTER),
    "change in the last month": (shares(0.7, 0.8), Split(23, 23), interrupted.FEW_AFTER),
    "five months before": (shares(0.7, 0.8), Split(5, 5), interrupted.FEW_BEFORE),
    "one month only": (
        Series(np.array([3]), np.array([10.0]), np.array([20.0])), Split(3, 3),
        interrupted.NONE_BEFORE,
    ),
    "no month": (
        Series(np.array([], dtype=int), np.array([]), np.array([])), HALF, interrupted.NO_NEWBORNS,
    ),
    "four events before": (
        made(np.where(MONTHS < 12, MONTHS < 4, 20)), HALF, interrupted.FEW_EVENTS,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_analysed_has_a_reason(name: str) -> None:
    series, split, reason = BAD[name]
    assert interrupted.reason(series, split) == reason
    with pytest.raises(NotFittedError, match=reason):
        interrupted.fit(series, split)


@pytest.mark.parametrize("kind", ["a wall in time", "one month holds all events"])
def test_separated_months_give_finite_numbers(kind: str) -> None:
    """Events that a line in time parts perfectly have no finite slope without priors."""
    if kind == "a wall in time":
        events = np.where((MONTHS >= 6) & (MONTHS < 12) | (MONTHS >= 18), 200, 0)
    else:
        events = np.where((MONTHS == 3) | (MONTHS == 15), 60, 0)
    found = effects.effect(interrupted.fit(made(events), HALF)).points
    assert np.isfinite([found.guess, found.lower, found.upper]).all()
    assert -1 <= found.lower <= found.guess <= found.upper <= 1
    assert not found.leaves_out_zero


def test_a_constant_share_says_no_effect() -> None:
    """Every month exactly 150 of 200: no variation at all, and still an honest interval."""
    found = effects.effect(interrupted.fit(made(np.full(24, 150)), HALF)).points
    assert found.guess == pytest.approx(0, abs=1e-3)
    assert found.lower < -0.02 < 0.02 < found.upper


def test_months_that_vary_less_than_chance_do_not_narrow_the_interval() -> None:
    """At least as wide as the binomial interval from the normal distribution."""
    fit = interrupted.fit(made(np.full(24, 150)), HALF, PLAIN)
    found = effects.effect(fit).points
    error = np.sqrt(2 * 0.75 * 0.25 / 2400)
    assert 2 * 1.96 * error < found.upper - found.lower < 1.35 * 2 * 1.96 * error


@pytest.mark.parametrize(("span", "out"), [((0.1, 0.01, 0.2), True), ((0.1, 0.0, 0.2), False)])
def test_leaving_out_zero(span: tuple[float, float, float], out: bool) -> None:
    assert Span(*span).leaves_out_zero is out
