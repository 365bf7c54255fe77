"""What chance allows of a later period, given a baseline: one law for each kind of chart.

The limits of every chart are here: p and p-prime in :class:`Share`, u, c and their primes in
:class:`Rate`, g in :class:`Gap`, XmR and t in :class:`Level`.

A baseline of twelve months is itself uncertain. Limits that take its rate for the truth call
chance a change far too often, and a limit of three sigma does not fit 20 births or 97 %. Here
limits are quantiles of the predictive law, which holds both uncertainties: beta-binomial for
shares, negative binomial for counts, the births between rare events by the same beta law, and
Student's t for measured values. (Jeffreys priors; Gelman et al., Bayesian Data Analysis, 2013,
chapter 2, from memory.)

Overdispersion: where a baseline varies more than its law allows, the variance of the law is
multiplied by Laney's sigma of z squared, and because that sigma comes from a dozen ranges the
tail is taken from Student's t.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from pipelines.statistics.rare import from_nelson, to_nelson
from pipelines.statistics.sigma import (
    Array,
    dispersion,
    moving_range_sigma,
    range_freedom,
    rate_sigma,
    share_sigma,
)

GRID: Final = (np.arange(40) + 0.5) / 40  # quantiles over which an uncertain rate is averaged
_ROUNDING: Final = 1e-9


class Chance(Protocol):
    """The law of later periods. Arrays have one value a period.

    ``size`` is the denominator (births, exposure); several periods together add up in size
    and in total.
    """

    @property
    def sigma_z(self) -> float:
        """How many times wider than chance the baseline varies; 1 where it does not."""
        ...

    @property
    def centre(self) -> float:
        """The baseline's own value, on the scale that is charted."""
        ...

    def level(self, tail: float) -> float:
        """Return the tail to use for a wanted tail: smaller where a sigma was estimated."""
        ...

    def tails(self, total: Array, size: Array, periods: int) -> tuple[Array, Array]:
        """Return the chances of so low a total, and of so high a one, of ``periods`` together."""
        ...

    def limits(self, size: Array, tail: float) -> tuple[Array, Array]:
        """Return the lowest and highest charted value that chance allows; both are allowed."""
        ...

    def side_chances(self, size: Array) -> tuple[Array, Array]:
        """Return the chances to lie below and above the centre: (grid, periods) each.

        A row is one rate that the baseline leaves possible; all rows are equally likely.
        """
        ...


def _student_level(tail: float, freedom: float | None) -> float:
    """Return the normal tail beyond the point where Student's t has ``tail``."""
    if freedom is None:
        return tail
    return float(stats.norm.sf(stats.t.isf(tail, freedom)))


def _beta_binomial_cdf(size: NDArray[np.int_], alpha: Array, beta: Array) -> Array:
    """Return cumulative chances (row: period, column: count from 0 to the largest size)."""
    count = np.arange(int(size.max()) + 1)
    left = size[:, None] - count
    inside = left >= 0
    left = np.where(inside, left, 0)
    n, a, b = size[:, None], alpha[:, None], beta[:, None]
    ways = special.gammaln(n + 1) - special.gammaln(count + 1) - special.gammaln(left + 1)
    log_chance = ways + special.betaln(count + a, left + b) - special.betaln(a, b)
    chances = np.where(inside, np.exp(log_chance), 0.0)
    return np.asarray(np.minimum(np.cumsum(chances, axis=1), 1.0))


@dataclass(frozen=True)
class Share:
    """Shares: ``numerator`` of ``counted`` in the baseline; p chart, or p-prime."""

    numerator: float
    counted: float
    sigma_z: float = 1.0
    freedom: float | None = None

    @classmethod
    def of(cls, numerator: Array, counted: Array) -> "Share":
        """Learn from a baseline, one value a period, denominators above 0."""
        centre = float(numerator.sum() / counted.sum())
        sigma = share_sigma(centre, counted)
        sigma_z = dispersion(numerator / counted, centre, sigma)
        freedom = range_freedom(len(counted)) if sigma_z > 1 else None
        return cls(float(numerator.sum()), float(counted.sum()), sigma_z, freedom)

    @property
    def centre(self) -> float:
        return self.numerator / self.counted

    def level(self, tail: float) -> float:
        return _student_level(tail, self.freedom)

    def _beta(self, size: Array) -> tuple[Array, Array]:
        """Return the beta law of each period's own rate.

        Overdispersed, its width is set so that the variance of the share is
        p q sigma_z^2 (1/size + 1/counted).
        """
        mean = (self.numerator + 0.5) / (self.counted + 1)
        weight = np.full(len(size), self.counted + 1)
        if self.sigma_z > 1:
            wider = self.sigma_z**2 * (1 + size / self.counted) - 1
            # One birth cannot be overdispersed; a correlation of 1 would make all births alike.
            alike = np.clip(wider / np.maximum(size - 1, 1), 1 / (self.counted + 2), 0.99)
            weight = 1 / alike - 1
        return mean * weight, (1 - mean) * weight

    def tails(self, total: Array, size: Array, periods: int) -> tuple[Array, Array]:
        sizes, totals = np.rint(size).astype(int), np.rint(total).astype(int)
        below = _beta_binomial_cdf(sizes, *self._beta(size))
        row = np.arange(len(sizes))
        at_most = below[row, totals]
        under = np.where(totals > 0, below[row, np.maximum(totals - 1, 0)], 0.0)
        return at_most, 1 - under

    def limits(self, size: Array, tail: float) -> tuple[Array, Array]:
        sizes = np.rint(size).astype(int)
        below = _beta_binomial_cdf(sizes, *self._beta(size))
        lower = (below < tail).sum(axis=1)
        # Highest count with P(count or more) >= tail, that is P(fewer) <= 1 - tail.
        upper = np.minimum((below <= 1 - tail).sum(axis=1), sizes)
        return lower / size, upper / size

    def rates(self, at: ArrayLike) -> Array:
        """Return quantiles of the rate that the baseline leaves possible (Jeffreys' prior)."""
        spread = self.sigma_z**2
        met, not_met = self.numerator + 0.5, self.counted - self.numerator + 0.5
        return np.asarray(stats.beta.ppf(at, met / spread, not_met / spread))

    def side_chances(self, size: Array) -> tuple[Array, Array]:
        rate = self.rates(GRID)[:, None]
        at = size * self.centre
        under, upto = np.ceil(at - _ROUNDING) - 1, np.floor(at + _ROUNDING)
        if self.sigma_z > 1:
            sd = np.sqrt(size * rate * (1 - rate) * self.sigma_z**2)
            return (
                stats.norm.cdf((under + 0.5 - size * rate) / sd),
                stats.norm.sf((upto + 0.5 - size * rate) / sd),
            )
        below = np.where(under >= 0, special.bdtr(np.maximum(under, 0), size.astype(int), rate), 0)
        return below, special.bdtrc(upto, size.astype(int), rate)


@dataclass(frozen=True)
class Rate:
    """Events per unit of exposure: u or c chart, with a prime where overdispersed."""

    events: float
    exposure: float
    sigma_z: float = 1.0
    freedom: float | None = None

    @classmethod
    def of(cls, events: Array, exposure: Array) -> "Rate":
        """Learn from a baseline, one value a period, exposures above 0."""
        centre = float(events.sum() / exposure.sum())
        sigma_z = dispersion(events / exposure, centre, rate_sigma(centre, exposure))
        freedom = range_freedom(len(exposure)) if sigma_z > 1 else None
        return cls(float(events.sum()), float(exposure.sum()), sigma_z, freedom)

    @property
    def centre(self) -> float:
        return self.events / self.exposure

    def level(self, tail: float) -> float:
        return _student_level(tail, self.freedom)

    def _law(self, size: Array) -> Any:
        """Return the negative binomial with variance mean * sigma_z^2 * (1 + size / exposure)."""
        mean = size * (self.events + 0.5) / self.exposure
        spread = self.sigma_z**2 * (1 + size / self.exposure)
        return stats.nbinom(mean / (spread - 1), 1 / spread)

    def tails(self, total: Array, size: Array, periods: int) -> tuple[Array, Array]:
        law = self._law(size)
        return law.cdf(total), law.sf(total - 1)

    def limits(self, size: Array, tail: float) -> tuple[Array, Array]:
        law = self._law(size)
        return law.ppf(tail) / size, law.isf(tail) / size

    def side_chances(self, size: Array) -> tuple[Array, Array]:
        spread = self.sigma_z**2
        rate = stats.gamma.ppf(GRID, (self.events + 0.5) / spread, scale=spread / self.exposure)
        mean, at = size * rate[:, None], size * self.centre
        under, upto = np.ceil(at - _ROUNDING) - 1, np.floor(at + _ROUNDING)
        if self.sigma_z > 1:
            sd = np.sqrt(mean * spread)
            return (
                stats.norm.cdf((under + 0.5 - mean) / sd),
                stats.norm.sf((upto + 0.5 - mean) / sd),
            )
        return stats.poisson.cdf(under, mean), stats.poisson.sf(upto, mean)


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

    def tails(self, total: Array, size: Array, periods: int) -> tuple[Array, Array]:
        return self._at_most(total, periods), 1 - self._at_most(total - 1, periods)

    def limits(self, size: Array, tail: float) -> tuple[Array, Array]:
        """Invert P(gap > g) = B(a, b + g + 1) / B(a, b), the beta-geometric law, by bisection."""
        a, b = self.gaps + 0.5, self.births_between + 0.5

        def beyond(gap: float) -> float:
            return float(np.exp(special.betaln(a, b + gap + 1) - special.betaln(a, b)))

        lower = _first(lambda gap: 1 - beyond(gap) >= tail)
        upper = _first(lambda gap: beyond(gap) < tail)
        return np.full(len(size), float(lower)), np.full(len(size), float(upper))

    def side_chances(self, size: Array) -> tuple[Array, Array]:
        event = stats.beta.ppf(GRID, self.gaps + 0.5, self.births_between + 0.5)[:, None]
        under, upto = np.ceil(self.centre - _ROUNDING) - 1, np.floor(self.centre + _ROUNDING)
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


@dataclass(frozen=True)
class Level:
    """Measured values, one a period: XmR chart; t chart where ``is_time`` (Nelson's power).

    ``size`` is not used. A total is the sum of the values, on the charted scale for one period
    and on the transformed scale for several.
    """

    mean: float
    sigma: float
    values: int
    is_time: bool = False
    sigma_z: float = 1.0

    @classmethod
    def of(cls, values: Array, is_time: bool = False) -> "Level":
        """Learn from a baseline of values, on the charted scale."""
        used = to_nelson(values) if is_time else values
        return cls(float(used.mean()), moving_range_sigma(used), len(used), is_time)

    @property
    def centre(self) -> float:
        return float(from_nelson([self.mean])[0]) if self.is_time else self.mean

    def level(self, tail: float) -> float:
        return tail

    def transform(self, values: Array) -> Array:
        """Return values on the scale on which they are added up."""
        return to_nelson(values) if self.is_time else values

    def tails(self, total: Array, size: Array, periods: int) -> tuple[Array, Array]:
        """Return the tails of totals on the scale of :meth:`transform`.

        A baseline without any variation says nothing about chance: nothing is unusual.
        """
        if self.sigma <= 0:
            return np.ones(len(total)), np.ones(len(total))
        sd = self.sigma * np.sqrt(1 / periods + 1 / self.values)
        law = stats.t(range_freedom(self.values))
        off = (total / periods - self.mean) / sd
        return law.cdf(off), law.sf(off)

    def limits(self, size: Array, tail: float) -> tuple[Array, Array]:
        width = stats.t.isf(tail, range_freedom(self.values))
        width *= self.sigma * np.sqrt(1 + 1 / self.values)
        both = np.array([self.mean - width, self.mean + width])
        lower, upper = from_nelson(both) if self.is_time else both
        return np.full(len(size), lower), np.full(len(size), upper)

    def side_chances(self, size: Array) -> tuple[Array, Array]:
        """Average over where the true mean may lie: t-like around the baseline's mean."""
        off = stats.t.ppf(GRID, range_freedom(self.values)) / np.sqrt(self.values)
        below = stats.norm.cdf(-off)[:, None] * np.ones((1, len(size)))
        return below, 1 - below
