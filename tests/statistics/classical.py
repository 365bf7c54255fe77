"""Classical methods as published, which no page uses: an outside fact to hold the product to.

Three-sigma limits are laid around the centre and the sigma that the product learns of a
baseline, so that a published chart holds those to its source. What pages draw are quantiles
(:mod:`pipelines.statistics.chance`), for a limit of three sigma fits neither small denominators
nor shares near 0 or 1. The rest stands alone: exact intervals of a share, exact numbers of runs,
means and SDs of subgroups.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import comb
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq
from scipy.special import gammaln

from pipelines.statistics import funnel, runs
from pipelines.statistics.chance import Rate, Share
from pipelines.statistics.sigma import Array, rate_sigma, share_sigma

WIDTH = 3.0  # sigmas: Shewhart's convention
D4_OF_TWO = 3.267  # upper limit of a range of two over its mean: 1 + 3 d3 / d2, d3 = 0.8525
EACH_TAIL = 0.025  # of the number of runs, as tabled by Swed and Eisenhart 1943


@dataclass(frozen=True)
class Limits:
    """Centre (a number) and limits (one a period) in the unit of what is charted."""

    centre: float
    lower: Array
    upper: Array

    def outside(self, values: ArrayLike) -> list[int]:
        """Return the places (from 1) of values outside; a value on a limit is inside."""
        charted = np.asarray(values, float)
        is_outside = (charted < self.lower) | (charted > self.upper)
        return [int(at) + 1 for at in np.flatnonzero(is_outside)]


def around(centre: float, sigma: Any, floor: float = -np.inf, ceiling: float = np.inf) -> Limits:
    """Lay three-sigma limits around a centre."""
    width = WIDTH * np.asarray(sigma, float)
    return Limits(centre, np.maximum(centre - width, floor), np.minimum(centre + width, ceiling))


def p_limits(learned: Share, counted: ArrayLike, sigma_z: float = 1.0) -> Limits:
    """Limits of a p chart (NIST handbook 6.3.3.2); of p-prime with Laney's sigma of z (2002)."""
    return around(learned.centre, sigma_z * share_sigma(learned.centre, counted), 0.0, 1.0)


def u_limits(learned: Rate, exposure: ArrayLike, sigma_z: float = 1.0) -> Limits:
    """Limits of a u chart; c chart: exposure 1; u-prime with Laney's sigma of z (2002)."""
    return around(learned.centre, sigma_z * rate_sigma(learned.centre, exposure), 0.0)


def c4(size: ArrayLike) -> Array:
    """Return the mean of the SD of ``size`` normal values over their sigma; size at least 2."""
    n = np.asarray(size, float)
    return np.asarray(np.sqrt(2 / (n - 1)) * np.exp(gammaln(n / 2) - gammaln((n - 1) / 2)))


@dataclass(frozen=True)
class XbarS:
    """Means and SDs of subgroups. ``sds``: nan for a subgroup of one, which has none."""

    sigma: float
    means: Limits
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
    """Limits of means of subgroups of unequal size, at least one of two or more.

    Sigma is the pooled SD over c4, which weighs a subgroup by what it knows, or with
    ``is_pooled=False`` the plain mean of SD / c4. They differ by a few percent.
    """
    groups = [np.asarray(group, float) for group in subgroups]
    sizes = np.array([len(group) for group in groups], float)
    sds = np.array([group.std(ddof=1) if len(group) > 1 else np.nan for group in groups])
    sigma = _sigma_of_groups(sds, sizes, is_pooled)
    centre = float(sum(group.sum() for group in groups) / sizes.sum())
    return XbarS(sigma, around(centre, sigma / np.sqrt(sizes)), sds)


def clopper_pearson(events: int, of: int, level: float = 0.95) -> list[float]:
    """Return the exact interval of a share (Clopper and Pearson, Biometrika 1934;26:404).

    By its definition: the shares at which the product's exact tails of a funnel are that small.
    """
    tail = (1 - level) / 2

    def end(side: int) -> float:
        return float(
            brentq(lambda at: float(funnel.tails(events, of, at)[side]) - tail, 0, 1, xtol=1e-14)
        )

    return [end(1) if events else 0.0, end(0) if events < of else 1.0]


def longest_trend(values: ArrayLike) -> int:
    """Return the number of points of the longest steady rise or fall; equal neighbours once."""
    return max((points for *_, points in runs.trend_stretches(values)), default=1)


@lru_cache(maxsize=512)
def runs_distribution(above: int, below: int) -> tuple[float, ...]:
    """Return the exact chance of 0, 1, 2, ... runs among that many points either side.

    Every order of the points is equally likely (Swed and Eisenhart 1943, closed form).
    """
    if min(above, below) == 0:
        return (1.0,) if above + below == 0 else (0.0, 1.0)
    total = comb(above + below, above)
    chances = [0.0, 0.0]
    for number in range(2, above + below + 1):
        half, is_odd = divmod(number, 2)
        a, b = above - 1, below - 1
        ways = 2 * comb(a, half - 1) * comb(b, half - 1)
        if is_odd:
            ways = comb(a, half) * comb(b, half - 1) + comb(a, half - 1) * comb(b, half)
        chances.append(ways / total)
    return tuple(chances)


def runs_critical(above: int, below: int, tail: float = EACH_TAIL) -> tuple[int, int]:
    """Return (reject at this many runs or fewer, reject at this many or more).

    The largest and the smallest number whose exact tail is at most ``tail``; 0 and one more
    than there are points where no number is unusual enough.
    """
    chances = np.array(runs_distribution(above, below))
    few = np.flatnonzero(np.cumsum(chances) <= tail)
    many = np.flatnonzero(np.cumsum(chances[::-1])[::-1] <= tail)
    most = above + below + 1
    return int(few[-1]) if len(few) else 0, int(many[0]) if len(many) else most
