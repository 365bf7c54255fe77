"""Three-sigma control limits of the classical charts, as published.

These are the textbook limits: the worked examples hold them to their sources. What the pages
draw are probability limits from :mod:`pipelines.statistics.chance`, for a limit of three sigma
fits neither small denominators nor shares near 0 or 1; both take their dispersion from here.

Every function takes one-dimensional arrays, one value a period, and keeps their order. Limits
may be computed from the first periods alone: give those, and apply centre and sigma to others.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaln

Array = NDArray[np.float64]
WIDTH: Final = 3.0  # sigmas: Shewhart's convention
# Mean range of two normal values over their sigma, as texts print it; exactly 2 / sqrt(pi),
# 0.03 % more. Charts and Laney's sigma of z both use the printed one.
D2_OF_TWO: Final = 1.128
# Upper limit of a range of two over its mean: 1 + 3 d3 / d2, with d3 = 0.8525.
D4_OF_TWO: Final = 3.267


@dataclass(frozen=True)
class Limits:
    """Centre (a number) and limits (one a period) in the unit of what is charted.

    ``sigma_z``: how many times wider than binomial or Poisson chance the limits were made; 1
    where nothing was widened, and for charts of measured values.
    """

    centre: float
    lower: Array
    upper: Array
    sigma_z: float = 1.0

    def outside(self, values: ArrayLike) -> NDArray[np.bool_]:
        """Return whether each value lies outside; a value on a limit does not."""
        charted = np.asarray(values, float)
        return (charted < self.lower) | (charted > self.upper)


def moving_ranges(values: ArrayLike) -> Array:
    """Return the distances between neighbours: one fewer than values."""
    return np.abs(np.diff(np.asarray(values, float)))


def moving_range_sigma(values: ArrayLike) -> float:
    """Return the mean moving range over 1.128: the sigma from neighbour to neighbour."""
    ranges = moving_ranges(values)
    return float(ranges.mean() / D2_OF_TWO) if len(ranges) else 0.0


def _around(
    centre: float, sigma: Array, sigma_z: float, floor: float = -np.inf, ceiling: float = np.inf
) -> Limits:
    lower = np.maximum(centre - WIDTH * sigma_z * sigma, floor)
    upper = np.minimum(centre + WIDTH * sigma_z * sigma, ceiling)
    return Limits(centre, lower, upper, sigma_z)


def share_sigma(centre: float, counted: ArrayLike) -> Array:
    """Return the binomial sigma of a share for each denominator."""
    return np.sqrt(centre * (1 - centre) / np.asarray(counted, float))


def rate_sigma(centre: float, exposure: ArrayLike) -> Array:
    """Return the Poisson sigma of a rate for each exposure."""
    return np.sqrt(centre / np.asarray(exposure, float))


def _pooled(events: ArrayLike, counted: ArrayLike) -> tuple[float, Array]:
    numerator, denominator = np.asarray(events, float), np.asarray(counted, float)
    return float(numerator.sum() / denominator.sum()), numerator / denominator


def _sigma_z(rates: Array, centre: float, sigma: Array) -> float:
    return moving_range_sigma((rates - centre) / sigma) if np.all(sigma > 0) else 1.0


def p_limits(events: ArrayLike, counted: ArrayLike) -> Limits:
    """Limits of a p chart: shares, binomial chance, clipped to 0 and 1 (NIST handbook 6.3.3.2)."""
    centre, _ = _pooled(events, counted)
    return _around(centre, share_sigma(centre, counted), 1.0, 0.0, 1.0)


def p_prime_limits(events: ArrayLike, counted: ArrayLike) -> Limits:
    """Limits of a p-prime chart: binomial sigma times the sigma of z (Laney 2002).

    sigma of z: mean moving range of the z values over 1.128. It may be below 1.
    """
    centre, rates = _pooled(events, counted)
    sigma = share_sigma(centre, counted)
    return _around(centre, sigma, _sigma_z(rates, centre, sigma), 0.0, 1.0)


def u_limits(events: ArrayLike, exposure: ArrayLike) -> Limits:
    """Limits of a u chart: events per unit of exposure, Poisson chance, clipped to 0."""
    centre, _ = _pooled(events, exposure)
    return _around(centre, rate_sigma(centre, exposure), 1.0, 0.0)


def u_prime_limits(events: ArrayLike, exposure: ArrayLike) -> Limits:
    """Limits of a u-prime chart: Poisson sigma times the sigma of z (Laney 2002)."""
    centre, rates = _pooled(events, exposure)
    sigma = rate_sigma(centre, exposure)
    return _around(centre, sigma, _sigma_z(rates, centre, sigma), 0.0)


def c_limits(events: ArrayLike) -> Limits:
    """Limits of a c chart: counts over equal exposure (NIST handbook 6.3.3.1)."""
    return u_limits(events, np.ones(len(np.asarray(events))))


@dataclass(frozen=True)
class XmR:
    """Single values with their moving ranges; ``range_upper`` is 3.267 times their mean."""

    values: Limits
    range_mean: float
    range_upper: float


def xmr_limits(values: ArrayLike) -> XmR:
    """Limits of single values from their moving ranges (NIST handbook 6.3.2.2)."""
    charted = np.asarray(values, float)
    sigma = np.full(len(charted), moving_range_sigma(charted))
    ranges = moving_ranges(charted)
    mean = float(ranges.mean()) if len(ranges) else 0.0
    return XmR(_around(float(charted.mean()), sigma, 1.0), mean, D4_OF_TWO * mean)


def c4(size: ArrayLike) -> Array:
    """Return the mean of the SD of ``size`` normal values over their sigma; size at least 2."""
    n = np.asarray(size, float)
    return np.asarray(np.sqrt(2 / (n - 1)) * np.exp(gammaln(n / 2) - gammaln((n - 1) / 2)))


@dataclass(frozen=True)
class XbarS:
    """Means and SDs of subgroups. ``sds``: nan for a subgroup of one, which has none."""

    sigma: float
    means: Limits
    spread: Limits
    sds: Array


def _sigma_of_groups(sds: Array, sizes: Array, is_pooled: bool) -> float:
    """Estimate sigma: the mean of SD / c4, or the pooled SD over c4 of its degrees of freedom."""
    has_sd = sizes > 1
    sds, sizes = sds[has_sd], sizes[has_sd]
    if not is_pooled:
        return float((sds / c4(sizes)).mean())
    freedom = (sizes - 1).sum()
    pooled = np.sqrt(((sizes - 1) * sds**2).sum() / freedom)
    return float(pooled / c4(freedom + 1))


def xbar_s_limits(subgroups: Sequence[ArrayLike], is_pooled: bool = True) -> XbarS:
    """Limits of means and SDs of subgroups of unequal size, at least one of two or more.

    The suite's own estimate of sigma is the pooled SD over c4, which weighs a subgroup by what
    it knows; ``is_pooled=False`` gives the plain mean of SD / c4. They differ by a few percent.
    """
    groups = [np.asarray(group, float) for group in subgroups]
    sizes = np.array([len(group) for group in groups], float)
    sds = np.array([group.std(ddof=1) if len(group) > 1 else np.nan for group in groups])
    sigma = _sigma_of_groups(sds, sizes, is_pooled)
    centre = float(sum(group.sum() for group in groups) / sizes.sum())
    factor = np.where(sizes > 1, c4(np.maximum(sizes, 2)), np.nan)
    width = WIDTH * sigma * np.sqrt(1 - factor**2)
    spread = Limits(sigma, np.maximum(factor * sigma - width, 0), factor * sigma + width)
    return XbarS(sigma, _around(centre, sigma / np.sqrt(sizes), 1.0), spread, sds)
