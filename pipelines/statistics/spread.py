"""Means and spreads of measured values by month: X-bar and S charts, and their constants.

The constants are those of handbooks (Montgomery, Introduction to Statistical Quality Control,
appendix VI, from memory): s is c4 sigma on average; three-sigma limits lie at the mean of means
plus and minus A3 s, and at B3 s and B4 s. Of a month with a hundred readings those of the mean are
far too narrow for care, which has seasons and good months: a page draws the means with the limits
of single values (:mod:`over_time`), which hold both, and says how much wider months vary than
their own readings explain. The spreads have the limits of an S chart, widened by Laney's sigma of
z where months differ more than normal readings would.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from pipelines.statistics.sigma import Array, moving_range_sigma, range_freedom

WIDTH: Final = 3.0  # sigmas: Shewhart's convention
TAIL: Final = 0.00135  # of a normal value beyond them, on either side


def c4(size: ArrayLike) -> Array:
    """Return the mean of the SD of ``size`` normal values over their sigma; size at least 2.

    >>> [round(float(each), 4) for each in c4([2, 5, 25])]
    [0.7979, 0.94, 0.9896]
    """
    n = np.asarray(size, float)
    gammas = special.gammaln(n / 2) - special.gammaln((n - 1) / 2)
    return np.asarray(np.sqrt(2 / (n - 1)) * np.exp(gammas))


def a3(size: ArrayLike) -> Array:
    """Return how many mean SDs a limit of the mean lies from the middle."""
    return np.asarray(WIDTH / (c4(size) * np.sqrt(np.asarray(size, float))))


def b3_b4(size: ArrayLike, width: float = WIDTH) -> tuple[Array, Array]:
    """Return the limits of the SD as parts of the mean SD; the lower is never below 0."""
    half = width * np.sqrt(1 - c4(size) ** 2) / c4(size)
    return np.maximum(1 - half, 0.0), 1 + half


@dataclass(frozen=True)
class Within:
    """What the readings of a baseline's months say of later ones.

    ``sigma``: of single readings within a month, pooled; ``wider``: how many times wider than of
    normal readings the SDs of months vary; ``between``: the same of the means, 1 where the
    readings explain all of it. ``width``: how many of them a limit lies from the middle, of
    Student's t, for a dozen months know their own variation badly.
    """

    sigma: float
    wider: float
    between: float
    width: float

    @classmethod
    def of(cls, means: Array, sds: Array, sizes: Array) -> "Within":
        """Learn from a baseline: one value a month, at least two readings in each."""
        freedom = float((sizes - 1).sum())
        pooled = np.sqrt(((sizes - 1) * sds**2).sum() / freedom)
        sigma = float(pooled / c4(freedom + 1))
        middle = c4(sizes) * sigma
        one = sigma * np.sqrt(1 - c4(sizes) ** 2)
        # Readings of care have heavier tails than normal ones, which few months cannot show.
        wider = max(1.0, moving_range_sigma((sds - middle) / one)) if sigma > 0 else 1.0
        chance = sigma / np.sqrt(sizes)
        apart = moving_range_sigma((means - means.mean()) / chance) if sigma > 0 else 1.0
        width = float(stats.t.isf(TAIL, range_freedom(len(sds))))
        return cls(sigma, wider, max(1.0, apart), width)

    def sd_limits(self, sizes: Array) -> tuple[Array, Array, Array]:
        """Return middle, lowest and highest SD that chance allows in months of so many readings."""
        middle = c4(sizes) * self.sigma
        low, high = b3_b4(sizes, self.width * self.wider)
        return middle, middle * low, middle * high

    def mean_limits(self, centre: Array | float, sizes: Array) -> tuple[Array, Array]:
        """Return the limits of an X-bar chart: what the readings of a month alone allow."""
        half = a3(sizes) * c4(sizes) * self.sigma
        return np.asarray(centre - half), np.asarray(centre + half)
