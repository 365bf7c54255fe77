"""How much a change moved a share: in points, in newborns a month, with its doubt.

The effect is the mean over the first ``MONTHS`` months after the change of what is fitted less
what the course before the change would have given, each month weighted by its newborns. Further
ahead a course of a year or two is not carried on, for its doubt grows and its meaning fades.

The interval. With about 24 months Newey-West errors alone are far too narrow (Turner et al., BMC
Med Res Methodol 2021;21:181, from memory; measured again in tests/benchmark/change_coverage.py).
So the wider of two is taken: the quasi-binomial error with a dispersion of at least 1, and the
Newey-West error with its correction for few months. Coefficients are then drawn from a
multivariate t with the degrees of freedom of the fit, and the middle 95 % of the effects they
give is the interval (Krinsky and Robb, Rev Econ Stat 1986;68:715), so that it stays within what
shares can do.
"""

from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np

from pipelines.statistics.interrupted import Fit, Floats, NotFittedError, design
from pipelines.statistics.interrupted import fit as refit

MONTHS: Final = 12
LEVEL: Final = 0.95
DRAWS: Final = 5000  # twice that, each with its mirror image: ends move by under 0.1 of a point
SEED: Final = 20240229


@dataclass(frozen=True)
class Span:
    """A best guess and the range that fits the data, as shares of 1."""

    guess: float
    lower: float
    upper: float

    def times(self, factor: float) -> "Span":
        return Span(self.guess * factor, self.lower * factor, self.upper * factor)

    @property
    def leaves_out_zero(self) -> bool:
        return self.lower > 0 or self.upper < 0


@dataclass(frozen=True)
class Effect:
    """What the change did. ``is_widened``: the likeness of neighbours decided the width."""

    points: Span  # as a share of 1
    newborns_a_month: Span
    months: int  # how many months after the change it is the mean of
    fitted: float
    without_change: Span
    is_widened: bool


@cache
def _standard(width: int, degrees_of_freedom: int, seed: int) -> Floats:
    """Return draws from a standard multivariate t, mirrored so that their mean is exactly 0."""
    rng = np.random.default_rng([seed, width, degrees_of_freedom])
    normal = rng.standard_normal((DRAWS, width))
    spread = np.sqrt(rng.chisquare(degrees_of_freedom, DRAWS) / degrees_of_freedom)
    half = normal / spread[:, None]
    return np.vstack([half, -half])


def _drawn(fit: Fit, widen: float, seed: int) -> Floats:
    """Return coefficients that fit the data, one row each."""
    root = np.linalg.cholesky(fit.unscaled * fit.scale * widen)
    standard = _standard(len(fit.coefficients), fit.degrees_of_freedom, seed)
    return np.asarray(fit.coefficients + standard @ root.T)


def _shares(columns: Floats, coefficients: Floats) -> Floats:
    """Return one row per draw, one column per month."""
    return np.asarray(1 / (1 + np.exp(-(coefficients @ columns.T))))


def _middle(draws: Floats, guess: float) -> Span:
    tail = (1 - LEVEL) / 2
    lower, upper = np.quantile(draws, [tail, 1 - tail])
    return Span(guess, float(min(lower, guess)), float(max(upper, guess)))


def _months(fit: Fit, most: int | None) -> tuple[Floats, Floats, Floats]:
    """Return the columns with and without the change, and the weights, of the months counted."""
    month, total = fit.series.month, fit.series.total
    counted = fit.split.is_after(month)
    if most is not None:
        counted &= month < fit.split.after_from + most
    first = int(month[0])
    with_change = design(month[counted], first, fit.split, fit.model)
    without = design(month[counted], first, fit.split, fit.model, changed=False)
    return with_change, without, total[counted] / total[counted].sum()


def _widening(fit: Fit, gradient: Floats) -> float:
    """Return by how much the Newey-West variance exceeds the quasi-binomial one, at least 1."""
    plain = gradient @ (fit.unscaled * fit.scale) @ gradient
    return max(1.0, float(gradient @ fit.hac @ gradient / plain))


def _gradient(fit: Fit, most: int | None) -> Floats:
    """Return how the effect moves with each coefficient."""
    with_change, without, weights = _months(fit, most)
    fitted, expected = fit.share(with_change), fit.share(without)
    return np.asarray(
        (weights * fitted * (1 - fitted)) @ with_change
        - (weights * expected * (1 - expected)) @ without
    )


def effect(fit: Fit, most: int | None = MONTHS) -> Effect:
    """Return the effect of the change; ``most``: over how many months after it (None: all)."""
    with_change, without, weights = _months(fit, most)
    fitted, expected = fit.share(with_change) @ weights, fit.share(without) @ weights
    widen = _widening(fit, _gradient(fit, most))
    coefficients = _drawn(fit, widen, SEED)
    expected_draws = _shares(without, coefficients) @ weights
    draws = _shares(with_change, coefficients) @ weights - expected_draws
    counted = fit.split.is_after(fit.series.month)
    if most is not None:
        counted &= fit.series.month < fit.split.after_from + most
    points = _middle(draws, float(fitted - expected))
    return Effect(
        points=points,
        newborns_a_month=points.times(float(fit.series.total[counted].mean())),
        months=int(counted.sum()),
        fitted=float(fitted),
        without_change=_middle(expected_draws, float(expected)),
        is_widened=widen > 1,
    )


def with_season(fit: Fit) -> Span | None:
    """Return the effect with a yearly wave in the model though there are under two years.

    None where the model has one, or where these months cannot bear one.
    """
    if fit.model.has_season:
        return None
    try:
        longer = refit(fit.series, fit.split, replace(fit.model, has_season=True))
    except NotFittedError:
        return None
    return effect(longer).points


def is_settled(fit: Fit, points: Span, seasonal: Span | None) -> bool:
    """Return whether the effect is more than chance, trend and season.

    Under two years a season can look like an effect (18 months with one gave "improvement" in
    more than one in five series to which nothing had happened), so there the effect must leave
    out 0 on the same side with a yearly wave in the model as well.
    """
    if fit.model.has_season or not points.leaves_out_zero:
        return points.leaves_out_zero
    if seasonal is None:
        return False
    return seasonal.leaves_out_zero and (seasonal.guess > 0) == (points.guess > 0)


def difference(here: Fit, there: Fit, most: int | None = MONTHS) -> Span:
    """Return the effect here less what happened in a unit without the change, at the same time.

    The two series are taken as independent; what both share makes the interval too wide, not
    too narrow.
    """
    draws, guesses = [], []
    for seed, fit in ((SEED, here), (SEED + 1, there)):
        with_change, without, weights = _months(fit, most)
        coefficients = _drawn(fit, _widening(fit, _gradient(fit, most)), seed)
        both = _shares(with_change, coefficients) - _shares(without, coefficients)
        draws.append(both @ weights)
        guesses.append(float((fit.share(with_change) - fit.share(without)) @ weights))
    return _middle(draws[0] - draws[1], guesses[0] - guesses[1])


def drift(fit: Fit) -> Span | None:
    """Return by how much the share moves from month to month since the change (shares of 1).

    The mean step of the fitted line, season taken out. None where the slope cannot change.
    """
    if not (fit.model.has_trend and fit.model.has_slope_change):
        return None
    after = fit.series.month[fit.split.is_after(fit.series.month)]
    ends = np.array([after[0], after[-1]])
    columns = design(ends, int(fit.series.month[0]), fit.split, fit.model)
    columns[:, 4:] = 0.0
    guess = fit.share(columns)
    change = (guess[1] - guess[0]) / (ends[1] - ends[0])
    slopes = guess * (1 - guess)
    gradient = slopes[1] * columns[1] - slopes[0] * columns[0]
    draws = _shares(columns, _drawn(fit, _widening(fit, gradient), SEED))
    return _middle((draws[:, 1] - draws[:, 0]) / (ends[1] - ends[0]), float(change))


@dataclass(frozen=True)
class Lines:
    """What a picture draws for each month: shares of 1."""

    month: Floats
    fitted: Floats
    without_change: Floats  # nan before the change
    lower: Floats
    upper: Floats


def lines(fit: Fit, month: Floats) -> Lines:
    """Return the fitted line and, after the change, the course without it with its range.

    ``month``: the months to draw, those without newborns included.
    """
    first = int(fit.series.month[0])
    whole = month.astype(np.int64)
    with_change = design(whole, first, fit.split, fit.model)
    without = design(whole, first, fit.split, fit.model, changed=False)
    draws = _shares(without, _drawn(fit, _widening(fit, _gradient(fit, None)), SEED))
    tail = (1 - LEVEL) / 2
    lower, upper = np.quantile(draws, [tail, 1 - tail], axis=0)
    after = fit.split.is_after(whole)
    return Lines(
        month=month,
        fitted=fit.share(with_change),
        without_change=np.where(after, fit.share(without), np.nan),
        lower=np.where(after, lower, np.nan),
        upper=np.where(after, upper, np.nan),
    )
