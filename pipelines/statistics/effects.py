"""How much a change moved a share, in points and newborns a month, or a value, with its doubt.

The effect is the mean over the first ``MONTHS`` months after the change of what is fitted less
what the course before the change would have given, each month weighted by its newborns. Further
ahead a course of a year or two is not carried on, for its doubt grows and its meaning fades.

The interval holds the middle 95 % of what the course allows (:mod:`shrunk`). A share has it on the
log-odds scale, carried over to points through a grid of equally likely cells, so that it stays
within what shares can do and no number is drawn.
"""

import math
from dataclasses import dataclass, field
from functools import cache
from typing import Final

import numpy as np

from pipelines.statistics.interrupted import WAVE, Fit, Ints, log_odds, share
from pipelines.statistics.shrunk import Floats

MONTHS: Final = 12
LEVEL: Final = 0.95
END: Final = 1.959963984540054  # standard errors to each side of the middle 95 %
CELLS: Final = (400, 15)  # of the step, and of the level for each


@dataclass(frozen=True)
class Span:
    """A best guess and the range that fits the data, as shares of 1 or in units of a value."""

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
    """What the change did. ``likely``: equally likely effects, from which chances are read."""

    points: Span  # as a share of 1, or in units of the value
    newborns_a_month: Span
    months: int  # how many months after the change it is the mean of
    fitted: float
    without_change: Span
    likely: Floats = field(repr=False, compare=False)

    def chance_above(self, least: float = 0.0) -> float:
        """Return the chance that the effect is more than ``least``."""
        return float((self.likely > least).mean())


@dataclass(frozen=True)
class Over:
    """The months counted: weights, columns with and without the change."""

    with_change: Floats
    without: Floats
    weights: Floats
    newborns: float  # a month
    months: int


def counted(fit: Fit, most: int | None = MONTHS) -> Over:
    """Return the months that the effect is the mean of."""
    kept = fit.split.is_after(fit.month)
    if most is not None:
        kept &= fit.month < fit.split.after_from + most
    month, total = fit.month[kept], fit.total[kept]
    return Over(
        fit.design(month),
        fit.design(month, changed=False),
        total / total.sum(),
        float(total.mean()),
        len(month),
    )


def middle(columns: Floats, weights: Floats, coefficients: Floats, is_share: bool) -> Floats:
    """Return the mean over months on the linear scale, then how it moves with each coefficient.

    The log-odds of a mean share; of a value the mean itself.
    """
    linear = columns @ coefficients
    if not is_share:
        return np.array([weights @ linear, *(weights @ columns)])
    at = share(linear)
    mean = float(weights @ at)
    slope = (weights * at * (1 - at)) @ columns / (mean * (1 - mean))
    return np.array([float(log_odds(np.array(mean))), *slope])


@cache
def _standard() -> tuple[Floats, Floats]:
    """Return the middles of equally likely cells of two normal numbers, a row for each."""
    from scipy import stats

    step, level = (stats.norm.ppf((np.arange(each) + 0.5) / each) for each in CELLS)
    one, two = np.meshgrid(step, level, indexing="ij")
    return one.ravel(), two.ravel()


def likely_points(step: float, level: float, covariance: Floats) -> Floats:
    """Return equally likely effects in shares of 1.

    ``step`` in log-odds from ``level``; ``covariance``: theirs, in that order.
    """
    one, two = _standard()
    wide = math.sqrt(covariance[0, 0])
    lean = covariance[0, 1] / wide
    rest = math.sqrt(max(covariance[1, 1] - lean**2, 0.0))
    from_level = level + lean * one + rest * two
    return share(from_level + step + wide * one) - share(from_level)


def span_of(likely: Floats, guess: float) -> Span:
    tail = (1 - LEVEL) / 2
    lower, upper = np.quantile(likely, [tail, 1 - tail])
    return Span(guess, float(min(lower, guess)), float(max(upper, guess)))


def effect(fit: Fit, most: int | None = MONTHS) -> Effect:
    """Return the effect of the change; ``most``: over how many months after it (None: all)."""
    over, found = counted(fit, most), fit.posterior
    with_change, *_slope = middle(over.with_change, over.weights, found.mean, fit.is_share)
    without, *_level = middle(over.without, over.weights, found.mean, fit.is_share)
    slope, level = np.array(_slope), np.array(_level)
    rows = np.array([slope - level, level])
    covariance = rows @ found.covariance @ rows.T
    step = with_change - without
    if fit.is_share:
        likely = likely_points(step, without, covariance)
    else:
        likely = step + math.sqrt(covariance[0, 0]) * _standard()[0]
    fitted, expected = fit.level(np.array([with_change, without]))
    points = span_of(likely, float(fitted - expected))
    wide = END * math.sqrt(covariance[1, 1])
    ends = fit.level(np.array([without - wide, without + wide]))
    return Effect(
        points=points,
        newborns_a_month=points.times(over.newborns),
        months=over.months,
        fitted=float(fitted),
        without_change=Span(float(expected), float(ends[0]), float(ends[1])),
        likely=likely,
    )


def drift(fit: Fit) -> Span:
    """Return by how much the level moves from month to month since the change.

    The mean step of the fitted line, season taken out; shares of 1, or units of the value.
    """
    after = fit.month[fit.split.is_after(fit.month)]
    ends = np.array([after[0], after[-1]])
    columns = fit.design(ends)
    columns[:, WAVE] = 0.0
    at = fit.level(columns @ fit.posterior.mean)
    slopes = at * (1 - at) if fit.is_share else np.ones(2)
    months = float(max(ends[1] - ends[0], 1))
    gradient = (slopes[1] * columns[1] - slopes[0] * columns[0]) / months
    guess = float((at[1] - at[0]) / months)
    wide = END * math.sqrt(gradient @ fit.posterior.covariance @ gradient)
    return Span(guess, guess - wide, guess + wide)


@dataclass(frozen=True)
class Lines:
    """What a picture draws for each month: shares of 1, or values."""

    month: Floats
    fitted: Floats
    without_change: Floats  # nan before the change
    lower: Floats
    upper: Floats


def lines(fit: Fit, month: Floats) -> Lines:
    """Return the fitted line and, after the change, the course without it with its range.

    ``month``: the months to draw, those without newborns included.
    """
    whole: Ints = month.astype(np.int64)
    without = fit.design(whole, changed=False)
    linear = without @ fit.posterior.mean
    wide = END * np.sqrt(np.einsum("ij,jk,ik->i", without, fit.posterior.covariance, without))
    after = fit.split.is_after(whole)
    return Lines(
        month=month,
        fitted=fit.level(fit.design(whole) @ fit.posterior.mean),
        without_change=np.where(after, fit.level(linear), np.nan),
        lower=np.where(after, fit.level(linear - wide), np.nan),
        upper=np.where(after, fit.level(linear + wide), np.nan),
    )
