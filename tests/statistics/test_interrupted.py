"""The segmented fit against R, statsmodels' own errors, and series whose effect is known."""

import doctest

import numpy as np
import pytest
import statsmodels.api as sm
from statsmodels.stats.diagnostic import acorr_breusch_godfrey, acorr_ljungbox
from statsmodels.stats.stattools import durbin_watson
from statsmodels.tsa.stattools import acf

from pipelines.statistics import effects, interrupted
from pipelines.statistics.effects import Span
from pipelines.statistics.interrupted import PLAIN, Fit, Model, NotFittedError, Series, Split

from .cases import assert_agrees, case

MONTHS = np.arange(24)
HALF = Split(12, 12)


def made(events: np.ndarray, total: np.ndarray | float = 200.0) -> Series:
    return Series(MONTHS, events.astype(float), np.broadcast_to(total, 24).astype(float))


def shares(before: float, after: float, total: float = 200.0) -> Series:
    """A series with a step and as much ripple as makes its variance about binomial."""
    ripple = np.tile([0.03, -0.03, 0.01, -0.01], 6)
    share = np.where(MONTHS < 12, before, after) + ripple
    return made(np.round(share * total), total)


@pytest.fixture(scope="module")
def r_fit() -> Fit:
    """The random segmented series of the case, fitted by this project."""
    one = case("its_quasibinomial_s")["inputs"]
    series = Series(
        np.array(one["time"]), np.array(one["events"], float), np.array(one["n"], float)
    )
    first_after = one["break_after"] + 1
    return interrupted.fit(series, Split(first_after, first_after), Model())


def test_examples_in_docstrings() -> None:
    assert doctest.testmod(interrupted).failed == 0


def test_agrees_with_r(r_fit: Fit) -> None:
    """R 4.2.2 glm with sandwich and lmtest; computed for this case, not recalled.

    The fit, its errors and the residual checks are this project's. The quasi-Poisson and least
    squares rows hold the library calls on this project's design, should one be needed.
    """
    series, design = r_fit.series, r_fit.design
    plain = sm.GLM(
        series.events / series.total, design, sm.families.Binomial(), var_weights=series.total
    ).fit()
    poisson = sm.GLM(series.events, design, sm.families.Poisson(), offset=np.log(series.total)).fit(
        scale="X2"
    )
    ols = sm.OLS(100 * series.events / series.total, design)
    hac = ols.fit(cov_type="HAC", cov_kwds={"maxlags": 2, "use_correction": True})
    residuals = r_fit.deviance_residuals
    tested = acorr_ljungbox(residuals, lags=[6]).iloc[0]
    found = {
        "binomial_coef": list(r_fit.coefficients),
        "binomial_se": list(np.sqrt(np.diag(r_fit.unscaled))),
        "deviance": float(plain.deviance),
        "quasibinomial_se": list(np.sqrt(np.diag(r_fit.unscaled * r_fit.dispersion))),
        "dispersion": r_fit.dispersion,
        "quasipoisson_coef": list(poisson.params),
        "quasipoisson_se": list(poisson.bse),
        "acf_deviance_lags1_6": list(acf(residuals, nlags=6)[1:]),
        "ljung_box_6": [tested["lb_stat"], tested["lb_pvalue"]],
        "ols_percent_coef": list(ols.fit().params),
        "ols_percent_se": list(ols.fit().bse),
        "newey_west_lag2_se": list(hac.bse),
        "durbin_watson": durbin_watson(ols.fit().resid),
        "breusch_godfrey_1": acorr_breusch_godfrey(ols.fit(), nlags=1, result_object=False)[0],
    }
    assert_agrees(found, case("its_quasibinomial_s"))
    alike = interrupted.likeness(r_fit)
    assert alike.lag_1 == pytest.approx(found["acf_deviance_lags1_6"][0], abs=1e-12)
    assert (alike.lags, alike.p_value) == (6, pytest.approx(tested["lb_pvalue"]))


@pytest.mark.filterwarnings("ignore:cov_type not fully supported")
def test_newey_west_errors_are_the_librarys(r_fit: Fit) -> None:
    series = r_fit.series
    library = sm.GLM(
        series.events / series.total,
        r_fit.design,
        sm.families.Binomial(),
        var_weights=series.total,
    ).fit(scale="X2", cov_type="HAC", cov_kwds={"maxlags": 3, "use_correction": True})
    assert interrupted.lags(len(series.month)) == 3
    assert np.sqrt(np.diag(r_fit.hac)) == pytest.approx(library.bse, rel=1e-6)


def test_plain_before_and_after_is_the_quasi_likelihood_of_two_groups() -> None:
    """Without trend and season the effect is the difference of the pooled shares."""
    series = shares(0.7, 0.8)
    found = effects.effect(interrupted.fit(series, HALF, PLAIN)).points
    before, after = (series.events[part].sum() / series.total[part].sum() for part in (
        MONTHS < 12, MONTHS >= 12))  # fmt: skip
    assert found.guess == pytest.approx(after - before, abs=1e-9)


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
    assert abs(segmented.guess) < 0.02


def test_a_season_is_not_an_effect() -> None:
    """A yearly wave with its rise after the change, one year each side."""
    series = made(np.round(2000 * (0.7 + 0.05 * np.sin(2 * np.pi * MONTHS / 12))), 2000.0)
    assert not effects.effect(interrupted.fit(series, HALF)).points.leaves_out_zero


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


def test_the_same_series_gives_the_same_interval() -> None:
    """Intervals are drawn, but from a fixed seed: a page built twice says the same."""
    fit = interrupted.fit(shares(0.7, 0.8), HALF)
    assert effects.effect(fit) == effects.effect(fit)


def test_a_month_without_newborns_keeps_its_place() -> None:
    series = shares(0.7, 0.8)
    total = series.total.copy()
    total[[4, 17]] = 0
    gapped = Series(series.month, np.minimum(series.events, total), total)
    fit = interrupted.fit(gapped, HALF)
    assert len(fit.series.month) == 22
    assert not fit.model.has_season  # 22 months are under two years
    assert fit.design[4, 1] == 6  # the sixth month, though the fifth is missing


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


def test_against_a_unit_where_the_same_happened_nothing_is_left() -> None:
    here = interrupted.fit(shares(0.7, 0.85), HALF)
    same = effects.difference(here, interrupted.fit(shares(0.6, 0.75), HALF))
    other = effects.difference(here, interrupted.fit(shares(0.7, 0.7), HALF))
    assert not same.leaves_out_zero
    assert other.lower > 0
    assert other.guess == pytest.approx(0.15, abs=0.02)


def test_drift_is_the_slope_since_the_change() -> None:
    share = np.where(MONTHS < 12, 0.6, 0.6 + 0.01 * (MONTHS - 12)) + np.tile([0.01, -0.01], 12)
    drift = effects.drift(interrupted.fit(made(np.round(2000 * share), 2000.0), HALF))
    assert drift is not None
    assert drift.guess == pytest.approx(0.01, abs=0.002)
    assert drift.lower > 0
    assert effects.drift(interrupted.fit(shares(0.7, 0.8), HALF, PLAIN)) is None


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
def test_separated_months_give_a_reason_or_finite_numbers(kind: str) -> None:
    """Events that a line in time parts perfectly have no finite slope."""
    if kind == "a wall in time":
        events = np.where((MONTHS >= 6) & (MONTHS < 12) | (MONTHS >= 18), 200, 0)
    else:
        events = np.where((MONTHS == 3) | (MONTHS == 15), 60, 0)
    try:
        found = effects.effect(interrupted.fit(made(events), HALF)).points
    except NotFittedError as error:
        assert str(error) == interrupted.NOT_FITTED
    else:
        assert np.isfinite([found.guess, found.lower, found.upper]).all()
        assert -1 <= found.lower <= found.guess <= found.upper <= 1


def test_a_constant_share_says_no_effect() -> None:
    """Every month exactly 150 of 200: no variation at all, and still an honest interval."""
    found = effects.effect(interrupted.fit(made(np.full(24, 150)), HALF)).points
    assert found.guess == pytest.approx(0, abs=1e-9)
    assert found.lower < -0.02 < 0.02 < found.upper


def test_months_that_vary_less_than_chance_do_not_narrow_the_interval() -> None:
    """The floor: as wide as the binomial interval from the normal distribution."""
    fit = interrupted.fit(made(np.full(24, 150)), HALF, PLAIN)
    found = effects.effect(fit).points
    error = np.sqrt(2 * 0.75 * 0.25 / 2400)
    assert found.upper - found.lower == pytest.approx(2 * 1.96 * error, rel=0.04)


@pytest.mark.parametrize(("span", "out"), [((0.1, 0.01, 0.2), True), ((0.1, 0.0, 0.2), False)])
def test_leaving_out_zero(span: tuple[float, float, float], out: bool) -> None:
    assert Span(*span).leaves_out_zero is out
