"""How widely the values of a baseline vary from period to period.

The sigma of chance alone (binomial, Poisson), the sigma from neighbour to neighbour, and how
many times wider than chance a baseline varies. The limits made of them are the charts' own:
:mod:`pipelines.statistics.chance`. Arrays have one value a period, in order.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Array = NDArray[np.float64]
# Mean range of two normal values over their sigma, as texts print it; exactly 2 / sqrt(pi),
# 0.03 % more. Charts and Laney's sigma of z both use the printed one.
D2_OF_TWO: Final = 1.128
# Overdispersion is taken for real where a chi-squared test of the baseline falls below this.
# A looser level widens more charts: fewer false alarms where months truly vary more, and falls
# found later where they do not. Measured at 100 births a month, 250 series, for 0.05, 0.1, 0.2:
# 18, 15, 13 % of charts cry wolf at a true sigma of z of 1.3; 86, 82, 78 % of falls from 70 % to
# 60 % are found within six months.
OVERDISPERSED_BELOW: Final = 0.1


def moving_ranges(values: ArrayLike) -> Array:
    """Return the distances between neighbours: one fewer than values."""
    return np.abs(np.diff(np.asarray(values, float)))


def moving_range_sigma(values: ArrayLike) -> float:
    """Return the mean moving range over 1.128: the sigma from neighbour to neighbour."""
    ranges = moving_ranges(values)
    return float(ranges.mean() / D2_OF_TWO) if len(ranges) else 0.0


def range_freedom(values: int) -> float:
    """Return the degrees of freedom of a sigma from moving ranges: 1 / (2 CV^2), at least 1.

    CV^2 = (0.8264 m - 1.082) / (m - 1)^2 for m normal values (Cryer and Ryan 1990, from
    memory; held to simulation in the tests).
    """
    squared = max(0.8264 * values - 1.082, 0.5) / max(values - 1, 1) ** 2
    return max(1.0, 1 / (2 * squared))


def share_sigma(centre: float, counted: ArrayLike) -> Array:
    """Return the binomial sigma of a share for each denominator."""
    return np.sqrt(centre * (1 - centre) / np.asarray(counted, float))


def rate_sigma(centre: float, exposure: ArrayLike) -> Array:
    """Return the Poisson sigma of a rate for each exposure."""
    return np.sqrt(centre / np.asarray(exposure, float))


def dispersion(rates: Array, centre: float, sigma: Array) -> float:
    """Return Laney's sigma of z (2002) where the baseline is overdispersed, else 1.

    Overdispersed: the chi-squared test of one rate for all periods falls below its level and
    sigma of z exceeds 1. A sigma of z below 1 never narrows a limit.
    """
    if len(rates) < 3 or not np.all(sigma > 0):
        return 1.0
    z = (rates - centre) / sigma
    sigma_z = moving_range_sigma(z)
    p_value = stats.chi2.sf((z**2).sum(), len(z) - 1)
    return sigma_z if p_value < OVERDISPERSED_BELOW and sigma_z > 1 else 1.0
