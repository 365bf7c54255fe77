"""A unit's season, and how months vary about it, learned from the months before one of them.

The method is a linear model with known sampling variance, its few other numbers averaged over a
grid by how well each explains the months (Gelman et al., Bayesian Data Analysis, 2013, chapters
5 and 14, from memory). The priors are our own choice; ``tests/benchmark/false_alarms.py``
measures what they are worth. Everything is on the scale of effects: log odds of a share, log of
a rate, the value itself of a measured one. Which months are learned from, and what follows for
those that are judged, is said in :mod:`expected`.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Final

import numpy as np

from pipelines.statistics.phases import POINTS_AT_LEAST, Phase
from pipelines.statistics.sigma import Array

# Prior standard deviations of the cosine and sine of one, and of two, waves a year: log odds.
# 0.2 is 3 points at 80 %. Of measured values in units of their sigma.
SEASON: Final = (0.2, 0.2, 0.06, 0.06)
SEASON_OF_VALUES: Final = (0.5, 0.5, 0.15, 0.15)
# How much months may vary beyond chance (standard deviation, log odds), and how probable each
# is beforehand.
BEYOND: Final = (0.0, 0.1, 0.2, 0.35, 0.6)
BEYOND_PRIOR: Final = (0.25, 0.3, 0.25, 0.15, 0.05)
# How alike neighbours may be (correlation), and how probable each is beforehand where months
# have so many newborns that chance adds nothing; where they have few, being alike drowns in
# chance: half as probable at a sampling variance of ALIKE_HALF (100 births at 80 %).
ALIKE: Final = (0.0, 0.2, 0.4, 0.6)
ALIKE_PRIOR: Final = (0.4, 0.3, 0.2, 0.1)
ALIKE_HALF: Final = 0.06
# How far what really moves may drift in a month once the baseline has ended.
DRIFT: Final = (0.0, 0.06)
DRIFT_PRIOR: Final = (0.85, 0.15)
# What is judged may also have stepped since, anywhere: how probable that is beforehand, and how
# far (standard deviation). Else a harm that came and stayed would pass for how months vary.
STEPPED: Final = 0.3
STEP: Final = 0.7
_NEAR: Final = 7
_RUN: Final = 9  # points of the shortest run that is one
_LEVEL_VARIANCE: Final = 100.0  # of a level nothing is known beforehand
# Months are said to vary more than chance where little speaks for chance alone.
SAID_BELOW: Final = 0.2


@dataclass(frozen=True)
class Season:
    """What was learned from the points before ``stop``, of the points from ``first`` on.

    ``shift``: how far each point of the history is expected off the level; ``shared``: variance
    of what is expected that a run up to the point has in common; ``beyond``: covariance of the
    points about it, without the sampling variance of each. ``wider``: how many times wider than
    chance they vary; ``points``: how many were known.
    """

    shift: Array
    shared: Array
    beyond: Array
    wider: float
    freedom: float | None
    alike: Array
    points: int

    @property
    def is_early(self) -> bool:
        """Whether two years are not known yet."""
        return self.points < 2 * POINTS_AT_LEAST


@dataclass(frozen=True)
class Values:
    """The points of a history on the scale of effects.

    ``away``: from the level; ``variance``: of sampling, at the level; ``prior``: standard
    deviations of the waves; ``level``: the mean share, or rate, of the baseline; 0 for values.
    """

    away: Array
    variance: Array
    prior: Array
    size: Array
    level: float = 0.0
    is_share: bool = False

    @property
    def unit(self) -> float:
        """How many units of what is charted one log odds stands for."""
        return float(self.prior[0] / SEASON[0])

    def heard(self, stop: int) -> Array:
        """Return the sampling variance of the points before ``stop`` where they really lie.

        Around each, half a year: where a level fell from 90 to 70 %, months vary more by chance
        alone, and that must not pass for more than chance.
        """
        if not self.level:
            return self.variance[:stop]
        slope = self.level * (1 - self.level) if self.is_share else self.level
        size, near = self.size[:stop], np.ones(_NEAR)
        rate = self.level + slope * self.away[:stop]
        local = np.convolve(rate * size, near, "same") / np.convolve(size, near, "same")
        there = local * (1 - local) if self.is_share else local
        return self.variance[:stop] * np.maximum(there / slope, 1.0)


@dataclass(frozen=True)
class Design:
    """What the months are explained by.

    ``columns``: a level for each phase (``levels`` of them) beside the waves; ``drift``: the
    covariance of a unit drift since the end of each baseline.
    """

    columns: Array
    levels: int
    drift: Array
    phases: list[Phase]
    start: int

    def steps(self, stop: int) -> Array:
        """Return one column for each place after a baseline where the level may have moved."""
        place = np.arange(stop)
        found = [
            (place >= at) & (place < phase.stop - self.start)
            for phase in self.phases
            for at in range(phase.baseline_stop - self.start, min(phase.stop - self.start, stop))
        ]
        return np.array(found, float).reshape(-1, stop).T


def _grid(variance: float, scale: float, has_drift: bool) -> tuple[Array, Array]:
    """Return every combination of width, likeness and drift, and its log prior.

    ``scale``: how many units of what is charted one log odds stands for.
    """
    drift, prior = (DRIFT, DRIFT_PRIOR) if has_drift else ((0.0,), (1.0,))
    values = np.array(list(product(BEYOND, ALIKE, drift))) * np.array([scale, 1, scale])
    heard = 1 / (1 + variance / (ALIKE_HALF * scale**2))
    alike = np.array(ALIKE_PRIOR) * heard
    alike[0] += 1 - heard
    return values, np.log([a * b * c for a, b, c in product(BEYOND_PRIOR, alike, prior)])


def season_of(values: Values, design: Design, stop: int, level: Array) -> Season:
    """Learn from the points before ``stop``; say it of every point.

    ``level``: the weights with which points make up the level that stands still.
    """
    y, variance = values.away[:stop], values.variance
    columns, waves = design.columns, design.levels
    usual = float(np.median(variance[:stop]))
    unknown = np.append(np.full(waves, _LEVEL_VARIANCE * values.unit**2), values.prior**2)
    grid, log_prior = _grid(usual, values.unit, bool(design.drift[:stop, :stop].any()))
    known = columns[:stop]
    drifts = np.unique(grid[:, 2])[:, None, None] ** 2 * design.drift[:stop, :stop]
    sigma = _together(values.heard(stop), grid)[:, None] + drifts + (known * unknown) @ known.T
    inverse = np.linalg.inv(sigma.reshape(len(grid), stop, stop))
    log_weight = log_prior + (np.linalg.slogdet(inverse)[1] - (inverse @ y) @ y) / 2
    steps = design.steps(stop)
    weight, taken, lost = _with_steps(inverse, y, log_weight, steps, STEP * values.unit)
    pull = unknown[:, None] * known.T
    mean_inverse = (weight @ inverse.reshape(len(grid), -1)).reshape(stop, stop)
    fitted = mean_inverse @ y - taken
    shift = columns[:, waves:] @ (pull @ fitted)[waves:]
    doubt = np.diag(unknown) - pull @ (mean_inverse - lost) @ pull.T
    own = np.zeros(columns.shape)
    own[:, waves:] = columns[:, waves:]
    own[:, waves - 1] = 1  # the level of the phase that is judged
    shared = own @ doubt @ own.T
    about = _about(variance, grid, weight)
    beyond = shared + about - np.diag(variance)
    return Season(
        shift - level @ shift,
        _in_a_run(shared),
        beyond,
        *_width(weight, usual + grid[:, 0] ** 2, usual, bool(values.level)),
        _alike(weight, grid),
        stop,
    )


def _in_a_run(shared: Array) -> Array:
    """Return the doubt that each point shares with the run that ends at it.

    Over the better part of a year a season that was learned wrongly changes sides.
    """
    stop = np.arange(1, len(shared) + 1)
    first = np.maximum(stop - _RUN, 0)
    so_far = np.hstack([np.zeros((len(shared), 1)), np.cumsum(shared, axis=1)])
    row = stop - 1
    return np.asarray((so_far[row, stop] - so_far[row, first]) / (stop - first))


@lru_cache(maxsize=32)
def _likeness(points: int) -> Array:
    """Return the correlation of points for each likeness: (likeness, points, points)."""
    apart = np.abs(np.subtract.outer(np.arange(points), np.arange(points)))
    powers: Array = np.array(ALIKE)[:, None] ** np.arange(points, dtype=float)
    return powers[:, apart]


def _sds(variance: Array, grid: Array) -> Array:
    """Return the standard deviation of points for each width of the grid: (width, points)."""
    rows = len(grid) // len(BEYOND)
    return np.sqrt(variance + grid[::rows, [0]] ** 2)


def _together(variance: Array, grid: Array) -> Array:
    """Return the covariance of points about what is expected.

    One for each width and likeness, in the order of the grid, which says each for every drift.
    """
    sd = _sds(variance, grid)
    both = sd[:, None, :, None] * sd[:, None, None, :] * _likeness(len(variance))
    return both.reshape(-1, len(variance), len(variance))


def _about(variance: Array, grid: Array, weight: Array) -> Array:
    """Return the same averaged over the grid: (points, points)."""
    sd, each = _sds(variance, grid), weight.reshape(len(BEYOND), len(ALIKE), -1).sum(axis=2)
    both = (sd.T * each.T[:, None, :]) @ sd  # (likeness, points, points)
    return np.asarray((both * _likeness(len(variance))).sum(axis=0))


def _with_steps(
    inverse: Array, y: Array, log_weight: Array, steps: Array, size: float
) -> tuple[Array, Array, Array]:
    """Average over where the level may have stepped: nowhere, or at one of the columns.

    Returns the weight of each row of the grid, and what the steps take from the fitted values
    and from the inverse covariance (rank one each, by Sherman and Morrison).
    """
    places = steps.shape[1]
    if not places:
        weight = np.exp(log_weight - log_weight.max())
        return weight / weight.sum(), np.zeros(len(y)), np.zeros((len(y), len(y)))
    across = inverse @ steps  # (grid, points, places)
    informed = (steps * across).sum(axis=1)
    pulled = y @ across
    kept = 1 / (1 / size**2 + informed)
    gain = pulled**2 * kept / 2 - np.log1p(size**2 * informed) / 2 + np.log(STEPPED / places)
    logs = log_weight[:, None] + np.hstack([np.full((len(inverse), 1), np.log1p(-STEPPED)), gain])
    each = np.exp(logs - logs.max())
    each /= each.sum()
    share = each[:, 1:] * kept
    flat = across.swapaxes(0, 1).reshape(len(y), -1)  # (points, grid and places)
    taken = flat @ (share * pulled).ravel()
    lost = (flat * share.ravel()) @ flat.T
    return each.sum(axis=1), taken, lost


def _alike(weight: Array, grid: Array) -> Array:
    return np.array([weight[grid[:, 1] == one].sum() for one in ALIKE])


def _width(
    weight: Array, variances: Array, chance: float, is_counted: bool
) -> tuple[float, float | None]:
    """Return how much wider than chance points vary, and the freedom of that as of a t law.

    The variance of a t law's own variance, over its square, is 2 / (freedom - 4). Of measured
    values chance alone is not known beforehand, and their law is a t already.
    """
    if not is_counted:
        return 1.0, None
    mean = float(weight @ variances)
    spread = float(weight @ (variances - mean) ** 2)
    freedom = 4 + 2 * mean**2 / spread if spread > 1e-9 * mean**2 else None
    is_chance = weight[variances == chance].sum() >= SAID_BELOW
    return 1.0 if is_chance else float(np.sqrt(mean / chance)), freedom
