"""Funnels: how far shares of groups of many sizes may lie from one centre by chance.

Everything after Spiegelhalter, Funnel plots for comparing institutional performance (Stat Med
2005;24:1185): exact binomial limits by interpolation, overdispersion by a Winsorised factor or
an additive variance. Nothing here ranks.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Of n groups where nothing differs about n/20 lie outside the inner pair, n/500 outside the outer.
INNER: Final = (0.025, 0.975)
OUTER: Final = (0.001, 0.999)
WINSOR: Final = 0.1
# The share trimmed of fewer groups is nobody, and phi of a few is mostly chance: our own choice.
FEWEST: Final = 10

Numbers = NDArray[np.float64]


def binomial_limits(theta: float, of: ArrayLike, at: Sequence[float], clip: bool = True) -> Numbers:
    """Return the limits of a share for groups of size ``of``, one row for each probability.

    ``theta``: the centre, from 0 to 1. The limit lies between two counts so that its
    probability is exactly that of ``at`` by interpolation (appendix A.1.1). Interpolation can
    give a share below 0; ``clip`` keeps limits from 0 to 1, as a plot needs. Groups of nobody
    have nan.
    """
    from scipy.stats import binom

    if not 0 <= theta <= 1:
        raise ValueError(f"a centre of {theta:g} is no share.")
    size = np.atleast_1d(np.asarray(of, float))
    size = np.where(size > 0, size, np.nan)
    p = np.asarray(at, float)[:, None]
    if theta in (0.0, 1.0):  # every count is certain: no limit to either side
        certain = np.where(np.isnan(size), np.nan, theta)
        return np.tile(np.asarray(certain, float), (len(at), 1))
    known = np.where(np.isnan(size), 1.0, np.floor(size))
    count = binom.ppf(p, known, theta)
    above, below = binom.cdf(count, known, theta), binom.cdf(count - 1, known, theta)
    limit = (count - (above - p) / (above - below)) / known
    limit = np.where(np.isnan(size), np.nan, limit)
    return np.asarray(np.clip(limit, 0.0, 1.0) if clip else limit)


def tails(events: ArrayLike, of: ArrayLike, theta: float) -> tuple[Numbers, Numbers]:
    """Return how probable so few, and so many, events are in groups of size ``of``, exactly.

    Small groups are judged by these: an interpolated limit can lie just inside the largest (or
    smallest) count, where that count alone is more probable than the limit says.
    """
    from scipy.stats import binom

    some, size = np.asarray(events, float), np.asarray(of, float)
    return np.asarray(binom.cdf(some, size, theta)), np.asarray(binom.sf(some - 1, size, theta))


def winsorised(values: ArrayLike, share: float = WINSOR) -> Numbers:
    """Pull the most extreme values in to the next in rank: floor(share times how many) each end."""
    given = np.asarray(values, float)
    trimmed = int(np.floor(share * len(given) + 1e-9))
    if not trimmed:
        return given.copy()
    order = np.sort(given)
    return np.asarray(np.clip(given, order[trimmed], order[-trimmed - 1]))


def additive_variance(total: float, variances: ArrayLike) -> float:
    """Return tau squared by the method of moments (DerSimonian and Laird 1986), never below 0.

    ``total``: the sum of squared z-scores about the centre (Cochran's Q, or the number of groups
    times phi); ``variances``: each group's own.
    """
    weight = 1 / np.asarray(variances, float)
    spare = weight.sum() - (weight**2).sum() / weight.sum()
    if len(weight) < 2 or spare <= 0:
        return 0.0
    return max(0.0, float((total - (len(weight) - 1)) / spare))


@dataclass(frozen=True)
class Spread:
    """How much more groups differ than chance alone would have them.

    ``phi`` is 1 where only chance acts; ``tau2`` the variance between groups beyond chance, in
    squared shares. ``z`` are the plain z-scores, the others allow for it.
    """

    theta: float
    z: Numbers
    phi: float
    phi_winsor: float
    tau2: float
    tau2_winsor: float
    z_multiplicative: Numbers
    z_additive: Numbers


def spread(
    events: ArrayLike, of: ArrayLike, theta: float | None = None, winsor: float = WINSOR
) -> Spread | None:
    """Return the overdispersion of the shares ``events`` of ``of`` about ``theta``.

    ``theta``: the centre; None: all groups together. None is given where fewer than two groups
    have anyone, or where none, or all, had the event: nothing can then differ by chance.
    """
    some, size = np.asarray(events, float), np.asarray(of, float)
    some, size = some[size > 0], size[size > 0]
    centre = float(some.sum() / size.sum()) if theta is None and len(size) else theta
    if len(size) < 2 or centre is None or not 0 < centre < 1:
        return None
    variance = centre * (1 - centre) / size
    z = (some / size - centre) / np.sqrt(variance)
    kept = winsorised(z, winsor)
    phi, phi_winsor = float(np.mean(z**2)), float(np.mean(kept**2))
    tau2, tau2_winsor = (additive_variance(len(z) * one, variance) for one in (phi, phi_winsor))
    return Spread(
        theta=centre,
        z=z,
        phi=phi,
        phi_winsor=phi_winsor,
        tau2=tau2,
        tau2_winsor=tau2_winsor,
        z_multiplicative=z / np.sqrt(max(phi_winsor, 1e-12)),
        z_additive=(some / size - centre) / np.sqrt(variance + tau2_winsor),
    )


def widened(limits: Numbers, theta: float, of: ArrayLike, tau2: float) -> Numbers:
    """Widen limits for a variance between groups beyond chance; shares stay from 0 to 1."""
    chance = theta * (1 - theta) / np.asarray(of, float)
    factor = np.sqrt((chance + tau2) / np.where(chance > 0, chance, np.nan))
    return np.clip(theta + (limits - theta) * factor, 0.0, 1.0)
