"""EWMA and CUSUM: the sensitive pair, for small and lasting moves.

No page uses them: they find a small move sooner than single months do, and cry wolf more often.
The benchmark measures them beside the rules that ship (``false_alarms.toml`` has both numbers).
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy import stats

from pipelines.statistics.chance import Chance
from pipelines.statistics.rules import Found, Periods
from pipelines.statistics.sigma import Array

EWMA: Final = "weighted mean outside limits"
CUSUM: Final = "summed deviation outside limits"

# Weight of the newest value; 0.2 looks back about nine values (2 / weight - 1).
EWMA_WEIGHT: Final = 0.2
EWMA_WIDTH: Final = 2.7  # the usual partner of so small a weight (Montgomery, from memory)
# In sigmas: tuned to a lasting move of one sigma (Page; k is half the move).
CUSUM_SLACK: Final = 0.5
CUSUM_LIMIT: Final = 5.0


@dataclass(frozen=True)
class Ewma:
    """The weighted mean after each value, and its limits."""

    values: Array
    lower: Array
    upper: Array


def ewma(
    values: ArrayLike,
    target: float,
    sigma: float,
    *,
    weight: float = EWMA_WEIGHT,
    width: float = EWMA_WIDTH,
    is_steady: bool = False,
    target_variance: float = 0.0,
) -> Ewma:
    """Exponentially weighted moving average around ``target`` (NIST handbook 6.3.2.4).

    Limits widen over the first values; ``is_steady`` gives the limits they tend to.
    ``target_variance``: variance of the target itself, where it was estimated, in units of
    sigma squared: it is common to all values and no weighting makes it smaller.
    """
    charted = pd.Series(np.concatenate([[target], np.asarray(values, float)]))
    mean = charted.ewm(alpha=weight, adjust=False).mean().to_numpy()[1:]
    age = np.arange(1, len(mean) + 1)
    grown = np.ones(len(mean)) if is_steady else 1 - (1 - weight) ** (2 * age)
    spread = width * sigma * np.sqrt(weight / (2 - weight) * grown + target_variance)
    return Ewma(mean, target - spread, target + spread)


@dataclass(frozen=True)
class Cusum:
    """Sums of what exceeds the slack above and below the target; both are 0 or more."""

    high: Array
    low: Array
    limit: float

    @property
    def first_signal(self) -> int | None:
        """The place (from 0) of the first value with a sum over the limit; None without one."""
        places = np.flatnonzero((self.high > self.limit) | (self.low > self.limit))
        return int(places[0]) if len(places) else None


def _one_side(excess: Array) -> Array:
    """Return max(0, sum so far), restarted at every 0: the sum less its running minimum."""
    total = np.cumsum(excess)
    return total - np.minimum(np.minimum.accumulate(total), 0)


def cusum(
    values: ArrayLike,
    target: float,
    slack: float = CUSUM_SLACK,
    limit: float = CUSUM_LIMIT,
) -> Cusum:
    """Tabular CUSUM, both sides (NIST handbook 6.3.2.3); slack and limit in the values' unit."""
    charted = np.asarray(values, float)
    high, low = _one_side(charted - target - slack), _one_side(target - slack - charted)
    return Cusum(high, low, limit)


def scores(chance: Chance, periods: Periods) -> Array:
    """Return each period as a normal score: 0 in the middle of what chance allows."""
    low, high = chance.tails(periods.totals, periods.sizes, 1)
    # Half the chance of the very value found counts to either side, else skew leaves a bias.
    return np.asarray(stats.norm.ppf(np.clip((low - high + 1) / 2, 1e-12, 1 - 1e-12)))


def sensitive_pair(z: Array, baseline: int) -> tuple[Ewma, Cusum]:
    """Return EWMA and CUSUM of normal scores; ``baseline``: periods the centre was made of."""
    mean = ewma(z, 0, 1, target_variance=1 / (baseline + 1))
    return mean, cusum(z, 0)


def sensitive_signals(z: Array, baseline: int) -> list[Found]:
    """Where the weighted mean or the summed deviations leave their limits; one a stretch."""
    mean, sums = sensitive_pair(z, baseline)
    ewma_signs = np.where(mean.values < mean.lower, -1, np.where(mean.values > mean.upper, 1, 0))
    sum_signs = np.where(sums.low > sums.limit, -1, np.where(sums.high > sums.limit, 1, 0))
    found = []
    for rule, signs in ((EWMA, ewma_signs), (CUSUM, sum_signs)):
        edges = np.flatnonzero(np.diff(signs, prepend=0, append=0))
        for a, b in pairwise(edges):
            if signs[a]:
                found.append(
                    Found(rule, "up" if signs[a] > 0 else "down", int(a), int(a), int(b) - 1)
                )
    return found
