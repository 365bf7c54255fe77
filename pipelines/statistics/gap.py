"""What chance allows of births between rare events: the law of the g chart.

As in :mod:`chance`: limits are quantiles of the predictive law, which holds the doubt about the
baseline too. Nothing is laid over it for season or likeness: gaps have no months.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from pipelines.statistics.chance import GRID, ROUNDING, Off
from pipelines.statistics.sigma import Array


@dataclass(frozen=True)
class Gap:
    """Births between rare events: g chart. ``size`` is not used; a total is births between."""

    gaps: int
    births_between: float
    sigma_z: float = 1.0

    @classmethod
    def of(cls, between: Array) -> "Gap":
        """Learn from the gaps of a baseline: whole numbers from 0."""
        return cls(len(between), float(between.sum()))

    @property
    def centre(self) -> float:
        return self.births_between / self.gaps

    def level(self, tail: float) -> float:
        return tail

    def _at_most(self, total: Array, events: int) -> Array:
        """Return the chance that ``events`` come within ``total`` births besides their own."""
        law = stats.betabinom(
            np.rint(total).astype(int) + events, self.gaps + 0.5, self.births_between + 0.5
        )
        return np.where(total < 0, 0.0, law.sf(events - 1))

    def tails(
        self, total: Array, size: Array, periods: int, off: Off | None = None
    ) -> tuple[Array, Array]:
        return self._at_most(total, periods), 1 - self._at_most(total - 1, periods)

    def middles(self, size: Array, off: Off | None = None) -> Array:
        return np.full(len(size), self.centre)

    def limits(self, size: Array, tail: ArrayLike, off: Off | None = None) -> tuple[Array, Array]:
        """Invert P(gap > g) = B(a, b + g + 1) / B(a, b), the beta-geometric law, by bisection."""
        a, b = self.gaps + 0.5, self.births_between + 0.5

        def beyond(gap: float) -> float:
            return float(np.exp(special.betaln(a, b + gap + 1) - special.betaln(a, b)))

        wanted = float(np.max(tail))  # one tail for all: no season is laid over births between
        lower = _first(lambda gap: 1 - beyond(gap) >= wanted)
        upper = _first(lambda gap: beyond(gap) < wanted)
        return np.full(len(size), float(lower)), np.full(len(size), float(upper))

    def side_chances(self, size: Array, off: Off | None = None) -> tuple[Array, Array]:
        event = stats.beta.ppf(GRID, self.gaps + 0.5, self.births_between + 0.5)[:, None]
        under, upto = np.ceil(self.centre - ROUNDING) - 1, np.floor(self.centre + ROUNDING)
        none = 1 - event
        wide = np.ones((1, len(size)))
        return (1 - none ** (under + 1)) * wide, none ** (upto + 1) * wide


def _first(holds: Callable[[int], bool]) -> int:
    """Return the smallest whole number from 0 for which a condition, once true, stays true."""
    high = 1
    while not holds(high) and high < 2**40:
        high *= 2
    low = -1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
