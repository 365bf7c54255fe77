"""An interrupted series: what a share, or a measured value, did before a change and after it.

Segmented regression (Wagner et al., J Clin Pharm Ther 2002;27:299; Bernal et al., Int J Epidemiol
2017;46:348): level + trend * month, with a step and a change of trend from the change on, one
yearly wave, and a slight bend of the whole, for no course stays straight for years. Shares on the
log-odds scale, values as they are. All but level and step have priors near zero (:mod:`shrunk`):
with a year or two of months a free trend could be anything, and an effect of 10 points would be
missed more often than seen. Months that differ beyond chance, and neighbours that are alike, widen
the answer.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from pipelines.statistics import shrunk
from pipelines.statistics.shrunk import Floats, Posterior, Seen

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

# Our own floors; no published source sets them. A step needs more than a handful of months on
# each side, and a phase with fewer events than this has no level worth fitting.
FEWEST_MONTHS: Final = 6  # with newborns, on each side of the change
FEWEST_EVENTS: Final = 5  # events, and newborns without one, on each side
YEAR: Final = 12
WAVE: Final = slice(5, 7)  # the columns of the season
NEVER_MOVES: Final = 1e-6  # a prior as narrow as this leaves a coefficient out

# Why a series cannot be analysed.
NO_NEWBORNS: Final = "no_newborns"
NONE_BEFORE: Final = "none_before"
NONE_AFTER: Final = "none_after"
FEW_BEFORE: Final = "few_before"
FEW_AFTER: Final = "few_after"
NEVER: Final = "never"
ALWAYS: Final = "always"
FEW_EVENTS: Final = "few_events"


@dataclass(frozen=True)
class Series:
    """Counts by month. ``month``: whole numbers, one apart for one month, rising; gaps allowed."""

    month: Ints
    events: Floats
    total: Floats

    def where(self, kept: Bools) -> "Series":
        return Series(self.month[kept], self.events[kept], self.total[kept])


@dataclass(frozen=True)
class Values:
    """Means of a measured value by month; ``spread``: standard deviation among its newborns."""

    month: Ints
    mean: Floats
    spread: Floats
    total: Floats

    def where(self, kept: Bools) -> "Values":
        return Values(self.month[kept], self.mean[kept], self.spread[kept], self.total[kept])

    @property
    def within(self) -> float:
        """The standard deviation among newborns of one month, pooled."""
        free = np.maximum(self.total - 1, 0)
        return float(np.sqrt((free * self.spread**2).sum() / max(free.sum(), 1)))


@dataclass(frozen=True)
class Split:
    """Months below ``before_until`` are before, from ``after_from`` on after, between left out."""

    before_until: int
    after_from: int

    def is_before(self, month: Ints) -> Bools:
        return np.asarray(month < self.before_until)

    def is_after(self, month: Ints) -> Bools:
        return np.asarray(month >= self.after_from)


@dataclass(frozen=True)
class Priors:
    """How far each part of a course is likely to lie from zero: standard deviations, log-odds."""

    level: float
    trend: float
    slope_change: float
    bend: float
    season: float
    step: float

    def times(self, factor: float) -> "Priors":
        """Return the priors with all but level and step so many times as wide."""
        return replace(
            self,
            trend=self.trend * factor,
            slope_change=self.slope_change * factor,
            bend=self.bend * factor,
            season=self.season * factor,
        )

    def spread(self, unit: float = 1.0) -> Floats:
        """Return one for each column of ``design``, on a scale where a log-odds is ``unit``."""
        both = (self.season, self.season)
        told = (self.level, self.trend, self.step, self.slope_change, self.bend, *both)
        return np.maximum(np.array(told) * unit, NEVER_MOVES)


PRIORS: Final = Priors(**shrunk.numbers()["course"])
PLAIN: Final = PRIORS.times(0)  # before and after, no more


@dataclass(frozen=True)
class Fit:
    """A fitted series. ``seen``: log-odds, or means, by month."""

    seen: Seen
    total: Floats
    split: Split
    priors: Priors
    is_share: bool
    posterior: Posterior

    @property
    def month(self) -> Ints:
        return self.seen.month

    def design(self, month: Ints, changed: bool = True) -> Floats:
        return design(month, self.split, changed)

    def level(self, linear: Floats) -> Floats:
        """Return shares from log-odds; values are what they are."""
        return share(linear) if self.is_share else linear


def share(log_odds: Floats) -> Floats:
    """Return shares of 1 from log-odds.

    >>> share(np.array([0.0])).tolist()
    [0.5]
    """
    return np.asarray(1 / (1 + np.exp(-log_odds)), dtype=float)


def log_odds(share: Floats) -> Floats:
    """Return log-odds from shares of 1, none of them 0 or 1."""
    return np.asarray(np.log(share) - np.log1p(-share), dtype=float)


def used(series: Series, split: Split) -> Series:
    """Return the months that count: with newborns, and not left out around the change."""
    return series.where(_counts(series.month, series.total, split))


def _counts(month: Ints, total: Floats, split: Split) -> Bools:
    return np.asarray((split.is_before(month) | split.is_after(month)) & (total > 0))


def design(month: Ints, split: Split, changed: bool = True) -> Floats:
    """Return the columns for ``month``: level, trend, step, change of trend, bend, sine, cosine.

    ``changed = False`` gives the months as they would have been without the change. Months are
    counted from the change on.
    """
    after = split.is_after(month) & changed
    turn = 2 * math.pi * month / YEAR
    since = (month - split.after_from).astype(float)
    changes = (after.astype(float), after * (since + 1))
    wave = (np.sin(turn), np.cos(turn))
    return np.column_stack([np.ones(len(month)), since, *changes, since**2 / 2, *wave])


def _side_reason(month: Ints, split: Split) -> str | None:
    before, after = split.is_before(month), split.is_after(month)
    sides = ((before, NONE_BEFORE, FEW_BEFORE), (after, NONE_AFTER, FEW_AFTER))
    none = [name for side, name, _ in sides if not side.any()]
    few = [name for side, _, name in sides if side.sum() < FEWEST_MONTHS]
    return next(iter([*none, *few]), None)


def reason(series: Series, split: Split) -> str | None:
    """Return why the series cannot be analysed at this change, or None where it can."""
    series = used(series, split)
    if not len(series.month):
        return NO_NEWBORNS
    if found := _side_reason(series.month, split):
        return found
    if series.events.sum() == 0:
        return NEVER
    if (series.events == series.total).all():
        return ALWAYS
    after = split.is_after(series.month)
    for side in (after, ~after):
        events = series.events[side].sum()
        if min(events, series.total[side].sum() - events) < FEWEST_EVENTS:
            return FEW_EVENTS
    return None


class NotFittedError(Exception):
    """The series cannot be analysed; ``args[0]`` is the reason."""


ROUNDS: Final = 50  # of weighing anew; eight are usual


def most_likely(columns: Floats, series: Series, spread: Floats) -> Floats:
    """Return the most likely coefficients of a binomial share under the priors.

    Weighted least squares again and again (McCullagh and Nelder, Generalized Linear Models, 2nd
    edition, section 2.5), each prior as one more observation.
    """
    found: Floats = np.zeros(columns.shape[1])
    pooled = (series.events.sum() + 0.5) / (series.total.sum() + 1)
    found[0] = math.log(pooled / (1 - pooled))
    for _ in range(ROUNDS):
        working, variance = _linearised(columns @ found, series)
        precision = columns.T @ (columns / variance[:, None]) + np.diag(1 / spread**2)
        new = np.asarray(np.linalg.solve(precision, columns.T @ (working / variance)))
        if np.abs(new - found).max() < 1e-9:
            break
        # Half the way where a whole step would overshoot.
        found = new if np.abs(columns @ (new - found)).max() < 3 else (new + found) / 2
    return found


def _linearised(linear: Floats, series: Series) -> tuple[Floats, Floats]:
    """Return months as log-odds around what is fitted, and their variance by chance."""
    at = share(linear)
    weight = np.maximum(series.total * at * (1 - at), 1e-6)
    return linear + (series.events - series.total * at) / weight, 1 / weight


def fit(series: Series, split: Split, priors: Priors = PRIORS) -> Fit:
    """Fit the course to the months of a share that count.

    Raises NotFittedError with the reason where ``reason`` gives one.
    """
    if found := reason(series, split):
        raise NotFittedError(found)
    return course(used(series, split), split, priors)


def course(series: Series, split: Split, priors: Priors = PRIORS) -> Fit:
    """Fit the course to months that were found to count; ``split`` may leave none after it."""
    columns, spread = design(series.month, split), priors.spread()
    linear = columns @ most_likely(columns, series, spread)
    value, variance = _linearised(linear, series)
    seen = Seen(series.month, value, variance)
    after = shrunk.posterior(columns, seen, spread)
    return Fit(seen, series.total, split, priors, True, after)


def fit_values(values: Values, split: Split, priors: Priors = PRIORS) -> Fit:
    """Fit the course to the months of a measured value that count.

    Raises NotFittedError with the reason: no newborns, or too few months on a side.
    """
    values = values.where(_counts(values.month, values.total, split))
    if not len(values.month):
        raise NotFittedError(NO_NEWBORNS)
    if found := _side_reason(values.month, split):
        raise NotFittedError(found)
    within = values.within
    if not within > 0:
        raise NotFittedError(NEVER)
    unit = within * float(shrunk.numbers()["value"]["times"])
    variance = within**2 / values.total
    level = float(np.average(values.mean, weights=values.total))
    columns = design(values.month, split)
    told = shrunk.numbers()["value"]
    own = replace(priors.times(told["narrower"]), step=priors.step * told["step"])
    spread = own.spread(unit)
    seen = Seen(values.month, values.mean - level, variance, unit)
    after = shrunk.posterior(columns, seen, spread)
    after.mean[0] += level
    return Fit(replace(seen, value=values.mean), values.total, split, priors, False, after)


def without(series: Series, month: int) -> Series:
    """Return the series with one month left out."""
    return series.where(series.month != month)


def with_washout(split: Split, months: int) -> Split:
    """Return the split with so many further months after the change left out."""
    return replace(split, after_from=split.after_from + months)


def with_baseline(series: Series, split: Split, months: int) -> Series:
    """Return the series with at most so many months before the change."""
    return series.where(series.month >= split.before_until - months)
