"""EWMA and CUSUM: the sensitive pair, for small and lasting moves.

Off by default on a page: they find a small move sooner than single months do, and cry wolf
more often (``false_alarms.toml`` has both numbers).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from pipelines.statistics.shewhart import Array

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
