"""What chance allows of a later period, given a baseline: one law for each kind of chart.

The limits of every chart are here and in :mod:`gap`: p and p-prime in :class:`Share`, u, c and
their primes in :class:`Rate`, g in :class:`gap.Gap`, XmR and t in :class:`Level`.

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

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from pipelines.statistics.counts import below_and_above, beta_binomial_cdf
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
ROUNDING: Final = 1e-9


@dataclass(frozen=True)
class Off:
    """What is expected of periods, or of several together, beside the level. One value each.

    On the scale of effects (log odds of a share, log of a rate, the value itself of a measured
    one): ``shift`` off the level, ``extra`` variance beyond the sampling of the period itself,
    ``shared`` the part of it that is doubt about level and season, alike for neighbours;
    ``wider``: how many times wider than chance single periods vary.
    """

    shift: Array
    extra: Array
    shared: Array
    wider: Array

    def part(self, first: int, stop: int) -> "Off":
        """Return the same of some of them."""
        own = slice(first, stop)
        return Off(self.shift[own], self.extra[own], self.shared[own], self.wider[own])


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

    def tails(
        self, total: Array, size: Array, periods: int, off: Off | None = None
    ) -> tuple[Array, Array]:
        """Return the chances of so low a total, and of so high a one, of ``periods`` together."""
        ...

    def limits(self, size: Array, tail: ArrayLike, off: Off | None = None) -> tuple[Array, Array]:
        """Return the lowest and highest charted value that chance allows; both are allowed."""
        ...

    def middles(self, size: Array, off: Off | None = None) -> Array:
        """Return what is expected of each period, on the scale that is charted."""
        ...

    def side_chances(self, size: Array, off: Off | None = None) -> tuple[Array, Array]:
        """Return the chances to lie below and above the middle: (grid, periods) each.

        A row is one rate that the baseline leaves possible; all rows are equally likely.
        """
        ...


@lru_cache(maxsize=4096)
def student_level(tail: float, freedom: float | None) -> float:
    """Return the normal tail beyond the point where Student's t has ``tail``."""
    if freedom is None:
        return tail
    return float(special.ndtr(special.stdtrit(freedom, tail)))


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
        return student_level(tail, self.freedom)

    @property
    def mean(self) -> float:
        """The middle of what the baseline leaves possible (Jeffreys' prior)."""
        return (self.numerator + 0.5) / (self.counted + 1)

    @property
    def doubt(self) -> float:
        """Variance of the level, on the scale of log odds."""
        return float(1 / ((self.counted + 2) * self.mean * (1 - self.mean)))

    def _beta(self, size: Array, off: Off | None = None) -> tuple[Array, Array]:
        """Return the beta law of each period's own rate.

        Its width is set so that the variance of the share is p q / size and, beside it, what
        ``off`` says; without ``off`` p q sigma_z^2 (1/size + 1/counted).
        """
        mean = self.mean
        narrowest = 1 / (self.counted + 2)
        if off is not None:
            shifted = special.expit(special.logit(mean) + off.shift)
            wider = off.extra * shifted * (1 - shifted) * size
        else:
            shifted = np.full(len(size), mean)
            wider = self.sigma_z**2 * (1 + size / self.counted) - 1
        if off is None and self.sigma_z <= 1:
            alike = np.full(len(size), narrowest)
        else:
            # One birth cannot be overdispersed; a correlation of 1 would make all births alike.
            alike = np.clip(wider / np.maximum(size - 1, 1), narrowest, 0.99)
        weight = 1 / alike - 1
        return shifted * weight, (1 - shifted) * weight

    def tails(
        self, total: Array, size: Array, periods: int, off: Off | None = None
    ) -> tuple[Array, Array]:
        sizes, totals = np.rint(size).astype(int), np.rint(total).astype(int)
        below = beta_binomial_cdf(sizes, *self._beta(size, off))
        row = np.arange(len(sizes))
        at_most = below[row, totals]
        under = np.where(totals > 0, below[row, np.maximum(totals - 1, 0)], 0.0)
        return at_most, 1 - under

    def limits(self, size: Array, tail: ArrayLike, off: Off | None = None) -> tuple[Array, Array]:
        sizes = np.rint(size).astype(int)
        below = beta_binomial_cdf(sizes, *self._beta(size, off))
        each = np.reshape(tail, (-1, 1))
        lower = (below < each).sum(axis=1)
        # Highest count with P(count or more) >= tail, that is P(fewer) <= 1 - tail.
        upper = np.minimum((below <= 1 - each).sum(axis=1), sizes)
        return lower / size, upper / size

    def middles(self, size: Array, off: Off | None = None) -> Array:
        if off is None or not 0 < self.centre < 1:
            return np.full(len(size), self.centre)
        return np.asarray(special.expit(special.logit(self.centre) + off.shift))

    def rates(self, at: ArrayLike) -> Array:
        """Return quantiles of the rate that the baseline leaves possible (Jeffreys' prior)."""
        spread = self.sigma_z**2
        met, not_met = self.numerator + 0.5, self.counted - self.numerator + 0.5
        return np.asarray(special.betaincinv(met / spread, not_met / spread, at))

    def _possible(self, off: Off | None) -> Array:
        """Return the rates that baseline and season leave possible: (grid, periods or 1)."""
        rate = self.rates(GRID)[:, None]
        if off is None:
            return rate
        mean = self.mean
        sure = self.sigma_z / np.sqrt((self.counted + 1) * mean * (1 - mean))
        away = special.logit(np.clip(rate, 1e-12, 1 - 1e-12)) - special.logit(mean)
        doubt = np.sqrt(off.shared) / sure
        return np.asarray(special.expit(special.logit(mean) + off.shift + away * doubt))

    def side_chances(self, size: Array, off: Off | None = None) -> tuple[Array, Array]:
        rate = self._possible(off)
        at = size * self.middles(size, off)
        under, upto = np.ceil(at - ROUNDING) - 1, np.floor(at + ROUNDING)
        wider = self.sigma_z if off is None else off.wider
        if np.any(wider > 1):
            sd = np.sqrt(size * rate * (1 - rate)) * wider
            return (
                stats.norm.cdf((under + 0.5 - size * rate) / sd),
                stats.norm.sf((upto + 0.5 - size * rate) / sd),
            )
        return below_and_above(under, upto, size.astype(int), rate)


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
        return student_level(tail, self.freedom)

    @property
    def doubt(self) -> float:
        """Variance of the level, on the log scale."""
        return 1 / (self.events + 0.5)

    def _law(self, size: Array, off: Off | None = None) -> Any:
        """Return the negative binomial with variance mean * sigma_z^2 * (1 + size / exposure).

        With ``off`` the variance is mean * (1 + mean * extra).
        """
        mean = size * (self.events + 0.5) / self.exposure
        spread = self.sigma_z**2 * (1 + size / self.exposure)
        if off is not None:
            mean = mean * np.exp(off.shift)
            spread = 1 + np.maximum(mean * off.extra, 1e-6)
        return stats.nbinom(mean / (spread - 1), 1 / spread)

    def tails(
        self, total: Array, size: Array, periods: int, off: Off | None = None
    ) -> tuple[Array, Array]:
        law = self._law(size, off)
        return law.cdf(total), law.sf(total - 1)

    def limits(self, size: Array, tail: ArrayLike, off: Off | None = None) -> tuple[Array, Array]:
        law = self._law(size, off)
        return law.ppf(tail) / size, law.isf(tail) / size

    def middles(self, size: Array, off: Off | None = None) -> Array:
        return np.full(len(size), self.centre) * (1 if off is None else np.exp(off.shift))

    def side_chances(self, size: Array, off: Off | None = None) -> tuple[Array, Array]:
        spread = self.sigma_z**2
        rate = stats.gamma.ppf(GRID, (self.events + 0.5) / spread, scale=spread / self.exposure)
        mean = size * rate[:, None]
        if off is not None:
            doubt = np.sqrt(off.shared * (self.events + 0.5)) / self.sigma_z
            level = (self.events + 0.5) / self.exposure
            away = np.log(np.maximum(rate, 1e-12) / level)[:, None] * doubt
            mean = size * level * np.exp(off.shift + away)
        at = size * self.middles(size, off)
        under, upto = np.ceil(at - ROUNDING) - 1, np.floor(at + ROUNDING)
        wider = self.sigma_z if off is None else off.wider
        if np.any(wider > 1):
            sd = np.sqrt(mean) * wider
            return (
                stats.norm.cdf((under + 0.5 - mean) / sd),
                stats.norm.sf((upto + 0.5 - mean) / sd),
            )
        return stats.poisson.cdf(under, mean), stats.poisson.sf(upto, mean)


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

    def tails(
        self, total: Array, size: Array, periods: int, off: Off | None = None
    ) -> tuple[Array, Array]:
        """Return the tails of totals on the scale of :meth:`transform`.

        A baseline without any variation says nothing about chance: nothing is unusual.
        """
        if self.sigma <= 0:
            return np.ones(len(total)), np.ones(len(total))
        law = stats.t(range_freedom(self.values))
        apart = (total / periods - self.mean - self._shift(off)) / self._sd(periods, off)
        return law.cdf(apart), law.sf(apart)

    def _shift(self, off: Off | None) -> Array | float:
        return 0.0 if off is None else off.shift

    def _sd(self, periods: int, off: Off | None) -> Array | float:
        extra = self.sigma**2 / self.values if off is None else off.extra
        return np.sqrt(self.sigma**2 / periods + extra)

    def limits(self, size: Array, tail: ArrayLike, off: Off | None = None) -> tuple[Array, Array]:
        width = stats.t.isf(tail, range_freedom(self.values)) * self._sd(1, off)
        middle = self.mean + self._shift(off)
        both = (middle - width, middle + width)
        lower, upper = (from_nelson(each) for each in both) if self.is_time else both
        return np.full(len(size), lower), np.full(len(size), upper)

    def middles(self, size: Array, off: Off | None = None) -> Array:
        return np.full(len(size), self.centre) + self._shift(off)

    def side_chances(self, size: Array, off: Off | None = None) -> tuple[Array, Array]:
        """Average over where the true mean may lie: t-like around the baseline's mean."""
        doubt = 1 / np.sqrt(self.values) if off is None else np.sqrt(off.shared) / self.sigma
        apart = stats.t.ppf(GRID, range_freedom(self.values))[:, None] * doubt
        below = stats.norm.cdf(-apart) * np.ones((1, len(size)))
        return below, 1 - below
