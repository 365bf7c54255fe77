"""An interrupted series of shares: what it did before a change, and after it.

Segmented quasi-binomial regression (Wagner et al., J Clin Pharm Ther 2002;27:299; Bernal et al.,
Int J Epidemiol 2017;46:348): log-odds = level + slope * month, with a step and a change of slope
from the change on, and one yearly wave where two years allow it. Quasi: the variance is a
multiple of the binomial one, estimated by Pearson's chi-square over its degrees of freedom.
"""

import math
import warnings
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

# Our own floors; no published source sets them. Four coefficients and a variance need more than
# a handful of months, and a phase with fewer events than this has no slope worth fitting.
FEWEST_MONTHS: Final = 6  # with newborns, on each side of the change
FEWEST_EVENTS: Final = 5  # events, and newborns without one, on each side
SEASON_MONTHS: Final = 24  # months in all from which a yearly wave is fitted
YEAR: Final = 12
EDGE: Final = 1e-8  # a fitted share nearer to 0 or 1 than this runs off without end
TAIL: Final = 0.975  # the upper end of a 95 % interval

# Why a series cannot be analysed.
NO_NEWBORNS: Final = "no_newborns"
NONE_BEFORE: Final = "none_before"
NONE_AFTER: Final = "none_after"
FEW_BEFORE: Final = "few_before"
FEW_AFTER: Final = "few_after"
NEVER: Final = "never"
ALWAYS: Final = "always"
FEW_EVENTS: Final = "few_events"
NOT_FITTED: Final = "not_fitted"


@dataclass(frozen=True)
class Series:
    """Counts by month. ``month``: whole numbers, one apart for one month, rising; gaps allowed."""

    month: Ints
    events: Floats
    total: Floats

    def where(self, kept: Bools) -> "Series":
        return Series(self.month[kept], self.events[kept], self.total[kept])


@dataclass(frozen=True)
class Split:
    """Months below ``before_until`` are before, from ``after_from`` on after, between left out."""

    before_until: int
    after_from: int

    def is_before(self, month: Ints) -> Bools:
        return np.asarray(month < self.before_until)

    def is_after(self, month: Ints) -> Bools:
        return np.asarray(month >= self.after_from)


@dataclass(frozen=True)
class Model:
    """What is fitted beside level and step: a trend, a change of it, a yearly wave."""

    has_trend: bool = True
    has_slope_change: bool = True
    has_season: bool = False


PLAIN: Final = Model(has_trend=False, has_slope_change=False)  # before and after, nothing else


@dataclass(frozen=True)
class Fit:
    """A fitted series. ``unscaled``: inverse information; covariance = dispersion * unscaled."""

    series: Series
    split: Split
    model: Model
    design: Floats
    coefficients: Floats
    unscaled: Floats
    hac: Floats  # covariance that allows for neighbouring months being alike
    dispersion: float
    degrees_of_freedom: int
    deviance_residuals: Floats

    @property
    def scale(self) -> float:
        """The dispersion, with a floor for months that happen to vary less than chance.

        At the floor an interval from t with these degrees of freedom is as wide as the binomial
        one from the normal distribution: the variance of counts is known to be no smaller.
        """
        from scipy import stats

        ends = stats.norm.ppf(TAIL), stats.t.ppf(TAIL, self.degrees_of_freedom)
        return max(float(ends[0] / ends[1]) ** 2, self.dispersion)

    def share(self, design: Floats) -> Floats:
        return share(design @ self.coefficients)


def share(log_odds: Floats) -> Floats:
    """Return shares of 1 from log-odds.

    >>> share(np.array([0.0])).tolist()
    [0.5]
    """
    return np.asarray(1 / (1 + np.exp(-log_odds)), dtype=float)


def used(series: Series, split: Split) -> Series:
    """Return the months that count: with newborns, and not left out around the change."""
    inside = split.is_before(series.month) | split.is_after(series.month)
    return series.where(inside & (series.total > 0))


def season_allowed(series: Series, split: Split) -> bool:
    return len(used(series, split).month) >= SEASON_MONTHS


def default_model(series: Series, split: Split) -> Model:
    return Model(has_season=season_allowed(series, split))


def design(month: Ints, first: int, split: Split, model: Model, changed: bool = True) -> Floats:
    """Return the columns of the model for ``month``, in the order level, slope, step, slope change.

    ``first``: the month counted as 1. ``changed = False`` gives the months as they would have
    been without the change.
    """
    after = split.is_after(month) & changed
    trend = [month - first + 1.0] if model.has_trend else []
    columns = [np.ones(len(month)), *trend, after.astype(float)]
    if model.has_slope_change:
        columns.append(after * (month - split.after_from + 1.0))
    if model.has_season:
        turn = 2 * math.pi * month / YEAR
        columns += [np.sin(turn), np.cos(turn)]
    return np.column_stack(columns)


def _side_reason(series: Series, split: Split) -> str | None:
    before, after = split.is_before(series.month), split.is_after(series.month)
    sides = ((before, NONE_BEFORE, FEW_BEFORE), (after, NONE_AFTER, FEW_AFTER))
    none = [name for side, name, _ in sides if not side.any()]
    few = [name for side, _, name in sides if side.sum() < FEWEST_MONTHS]
    return next(iter([*none, *few]), None)


def reason(series: Series, split: Split) -> str | None:
    """Return why the series cannot be analysed at this change, or None where it can."""
    series = used(series, split)
    if not len(series.month):
        return NO_NEWBORNS
    if found := _side_reason(series, split):
        return found
    if series.events.sum() == 0:
        return NEVER
    if (series.events == series.total).all():
        return ALWAYS
    after = split.is_after(series.month)
    for side in (after, ~after):
        events = series.events[side].sum()
        if min(events, series.total[side].sum() - events) < FEWEST_EVENTS:
            return FEW_EVENTS
    return None


class NotFittedError(Exception):
    """The model has no finite answer for these counts; ``args[0]`` is the reason."""


def lags(months: int) -> int:
    """Return how many months back likeness is allowed for: floor(4 (T/100)^(2/9)).

    Newey and West's rule (Rev Econ Stud 1994;61:631).

    >>> lags(24), lags(36)
    (2, 3)
    """
    return int(4 * (months / 100) ** (2 / 9))


def _hac(columns: Floats, residuals: Floats, unscaled: Floats) -> Floats:
    """Return the Newey-West covariance with the correction T / (T - k) for few months."""
    from statsmodels.stats.sandwich_covariance import S_hac_simple

    months, width = columns.shape
    middle = S_hac_simple(columns * residuals[:, None], nlags=lags(months))
    return np.asarray(unscaled @ middle @ unscaled * months / (months - width))


def _binomial(columns: Floats, series: Series) -> Any:
    """Return statsmodels' binomial fit of the shares, the totals as variance weights.

    With pairs of counts statsmodels 0.15.0 takes Pearson's chi-square over the wrong weights,
    and errors come out far too small. The dispersion is left to the caller: while it is part of
    the fit, months that are perfectly even never converge.
    """
    from statsmodels.genmod.families import Binomial
    from statsmodels.genmod.generalized_linear_model import GLM

    glm = GLM(
        series.events / series.total,
        columns,
        family=Binomial(),
        var_weights=series.total,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return glm.fit()
        except (ValueError, FloatingPointError, np.linalg.LinAlgError):
            raise NotFittedError(NOT_FITTED) from None


def fit(series: Series, split: Split, model: Model | None = None) -> Fit:
    """Fit the segmented model to the months that count.

    Raises NotFittedError with the reason where ``reason`` gives one, or where the counts have no
    finite answer (months of nothing but events on one side, and the like).
    """
    if found := reason(series, split):
        raise NotFittedError(found)
    model = default_model(series, split) if model is None else model
    series = used(series, split)
    columns = design(series.month, int(series.month[0]), split, model)
    result = _binomial(columns, series)
    fitted = np.asarray(result.fittedvalues)
    unscaled = np.asarray(result.normalized_cov_params)
    is_finite = bool(np.isfinite(unscaled).all()) and math.isfinite(result.pearson_chi2)
    if not result.converged or not is_finite or np.minimum(fitted, 1 - fitted).min() < EDGE:
        raise NotFittedError(NOT_FITTED)
    return Fit(
        series=series,
        split=split,
        model=model,
        design=columns,
        coefficients=np.asarray(result.params),
        unscaled=unscaled,
        hac=_hac(columns, series.events - series.total * fitted, unscaled),
        dispersion=float(result.pearson_chi2 / result.df_resid),
        degrees_of_freedom=int(result.df_resid),
        deviance_residuals=np.asarray(result.resid_deviance),
    )


def variation(series: Series) -> float:
    """Return how much more months vary than chance alone gives, trend and season apart.

    At least 1. Needs months with newborns only, and more of them than 4.
    """
    # No month is after: level, trend and season are left.
    apart = Split(int(series.month[-1]) + 1, int(series.month[-1]) + 1)
    model = Model(has_slope_change=False, has_season=season_allowed(series, apart))
    columns = np.delete(design(series.month, int(series.month[0]), apart, model), 2, axis=1)
    fitted = _binomial(columns, series)
    return max(1.0, float(fitted.pearson_chi2 / fitted.df_resid))


@dataclass(frozen=True)
class Likeness:
    """Whether neighbouring months are alike beyond the model."""

    lag_1: float
    p_value: float  # Ljung-Box, over ``lags``
    lags: int


def likeness(fitted: Fit) -> Likeness:
    """Return the autocorrelation of the deviance residuals and its Ljung-Box test.

    Over a quarter of the months, at most 6. Months without newborns are passed over.
    """
    from statsmodels.stats.diagnostic import acorr_ljungbox
    from statsmodels.tsa.stattools import acf

    residuals = fitted.deviance_residuals
    back = min(6, len(residuals) // 4)
    if np.abs(residuals).max() < 1e-6:  # nothing is left to be alike
        return Likeness(0.0, 1.0, back)
    first = float(acf(residuals, nlags=1, fft=False)[1])
    tested = acorr_ljungbox(residuals, lags=[back])
    return Likeness(first, float(tested["lb_pvalue"].iloc[0]), back)


def without(series: Series, month: int) -> Series:
    """Return the series with one month left out."""
    return series.where(series.month != month)


def with_washout(split: Split, months: int) -> Split:
    """Return the split with so many further months after the change left out."""
    return replace(split, after_from=split.after_from + months)


def with_baseline(series: Series, split: Split, months: int) -> Series:
    """Return the series with at most so many months before the change."""
    return series.where(series.month >= split.before_until - months)
