"""Standardising: would two groups still differ if they had the same mix of newborns?

Direct: each group's own rates, weighted to one standard mix. It needs newborns of the group in
every stratum of the standard. Indirect: how many events the group has, beside how many its own
mix would have at the standard's rates. It needs no more than the group's sizes, but two such
ratios compare each group with the standard and not with one another.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipelines.statistics.intervals import LEVEL, garwood

NOBODY: Final = "nobody"
EMPTY_STRATUM: Final = "empty_stratum"
NO_RATE: Final = "no_rate"
NONE_EXPECTED: Final = "none_expected"

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Direct:
    """Rates per one newborn; all but ``crude`` are None where ``reason`` says why."""

    crude: float | None
    rate: float | None
    lower: float | None
    upper: float | None
    reason: str | None


@dataclass(frozen=True)
class Indirect:
    """Events observed and expected, and their ratio; None where ``reason`` says why."""

    observed: float
    expected: float | None
    ratio: float | None
    lower: float | None
    upper: float | None
    reason: str | None


def _columns(*columns: ArrayLike) -> list[Numbers]:
    arrays = [np.atleast_1d(np.asarray(one, float)) for one in columns]
    if len({one.shape for one in arrays}) != 1:
        raise ValueError("every stratum needs its events, its size and its standard.")
    if any(not np.isfinite(one).all() or (one < 0).any() for one in arrays):
        raise ValueError("a stratum's numbers must be known and not below nought.")
    return arrays


def direct(events: ArrayLike, of: ArrayLike, standard: ArrayLike, level: float = LEVEL) -> Direct:
    """Return the rate the group would have with the standard's mix of strata.

    ``events``, ``of``: of the group by stratum; ``standard``: the standard's size by stratum.
    The gamma interval of Fay and Feuer (Stat Med 1997;16:791): it holds for rare events and is
    too wide for common ones, so give it the rarer side. A stratum of the standard without anyone
    of the group has no rate: then nothing is guessed and there is a reason.
    """
    some, size, weight = _columns(events, of, standard)
    if not size.sum() or not weight.sum():
        return Direct(None, None, None, None, NOBODY)
    crude = float(some.sum() / size.sum())
    if ((size == 0) & (weight > 0)).any():
        return Direct(crude, None, None, None, EMPTY_STRATUM)
    kept = size > 0
    each = weight[kept] / weight.sum() / size[kept]
    rate = float((each * some[kept]).sum())
    lower, upper = _fay_feuer(rate, float((each**2 * some[kept]).sum()), float(each.max()), level)
    return Direct(crude, rate, lower, upper, None)


def _fay_feuer(rate: float, variance: float, largest: float, level: float) -> tuple[float, float]:
    """Return the gamma limits; ``largest`` is the greatest weight that one event can have."""
    from scipy.stats import gamma

    tail = (1 - level) / 2
    lower = gamma.ppf(tail, rate**2 / variance, scale=variance / rate) if rate > 0 else 0.0
    one_more, wider = rate + largest, variance + largest**2
    upper = gamma.ppf(1 - tail, one_more**2 / wider, scale=wider / one_more)
    return float(lower), float(upper)


def indirect(observed: float, of: ArrayLike, rates: ArrayLike, level: float = LEVEL) -> Indirect:
    """Return events observed over those expected at the standard's ``rates`` by stratum.

    ``of``: the group's size by stratum; a rate may be nan where the group has nobody. The
    interval takes the expected number as known and the observed as exact Poisson (Garwood
    1936; for standardised ratios as in Breslow and Day 1987).
    """
    size, rate = np.atleast_1d(np.asarray(of, float)), np.atleast_1d(np.asarray(rates, float))
    kept = size > 0
    if not kept.any():
        return Indirect(observed, None, None, None, None, NOBODY)
    if not np.isfinite(rate[kept]).all():
        return Indirect(observed, None, None, None, None, NO_RATE)
    size, rate = _columns(size[kept], rate[kept])
    expected = float((size * rate).sum())
    if expected <= 0:
        return Indirect(observed, expected, None, None, None, NONE_EXPECTED)
    lower, upper = garwood(observed, expected, level)
    return Indirect(observed, expected, observed / expected, float(lower), float(upper), None)
