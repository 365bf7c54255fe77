"""What a month is expected to be: the level of the baseline, and the unit's season.

The level stands still (see :mod:`phases`). A season is learned beside it, as two harmonics of
the year, and shrunk towards none by its prior; neighbouring months may be alike, and months may
vary more than chance, by as much as the unit's own months leave possible. All three are learned
from the baseline first, and anew after every twelve points more, from the points before: never
from those that are judged by it. What really moved since the baseline must not be taken for a
season, so it is given a drift of its own while the season is learned.

How it is learned is :mod:`season`'s.
"""

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import pandas as pd

from pipelines.statistics.chance import Chance, Level, Off, Rate, Share, student_level
from pipelines.statistics.phases import POINTS_AT_LEAST, Phase
from pipelines.statistics.season import (
    ALIKE,
    SEASON,
    SEASON_OF_VALUES,
    Design,
    Season,
    Values,
    season_of,
)
from pipelines.statistics.sigma import Array

# While a season is known from the baseline alone, the doubt about it widens every limit, and
# fewer signals than later come by chance: tails this many times as large keep the balance.
EARLY: Final = 4.0
EARLY_RUN: Final = 8.0  # the same for a run, of which a later season is a smaller part


@dataclass(frozen=True)
class Expected:
    """What to expect of the periods of one phase, in order.

    ``stage``: which of ``seasons`` a period is judged by, the last perhaps only of those to come;
    ``at``: the place in the history of the phase's first period.
    """

    seasons: tuple[Season, ...]
    stage: np.ndarray
    at: int
    sizes: Array
    known: dict[int, Off] = field(default_factory=dict, repr=False, compare=False)

    def off(self, periods: int) -> Off:
        """Return what is expected of every ``periods`` neighbours together."""
        if periods not in self.known:
            self.known[periods] = self._off(periods)
        return self.known[periods]

    def _off(self, periods: int) -> Off:
        ends = max(0, len(self.stage) - periods + 1)
        own = np.arange(ends)[:, None] + np.arange(periods)  # (ends, periods)
        stage, place = self.stage[own], own + self.at
        weight = self.sizes[own]
        weight = weight / weight.sum(axis=1, keepdims=True)
        shift = np.array([one.shift for one in self.seasons])[stage, place]
        found = np.empty((3, ends))
        for number, season in enumerate(self.seasons):
            # What is known when the last of them has come counts for all of them.
            at = np.flatnonzero(stage[:, -1] == number)
            rows, theirs = weight[at], place[at]
            beyond = season.beyond[theirs[:, :, None], theirs[:, None, :]]
            found[0, at] = np.einsum("ei,eij,ej->e", rows, beyond, rows)
            found[1, at] = (rows * season.shared[theirs]).sum(axis=1)
            found[2, at] = season.wider
        return Off((weight * shift).sum(axis=1), *found)

    def level(self, tail: float) -> Array:
        """Return the tail to use of each period: smaller where widths are unsure."""
        each = zip(self._asked(tail), self.seasons, strict=True)
        tails = [student_level(asked, one.freedom) for asked, one in each]
        return np.asarray(np.array(tails, float)[self.stage])

    def asked(self, tail: float) -> Array:
        """Return the tail that is asked of each period for a wanted one, widths taken for sure."""
        return np.asarray(np.array(self._asked(tail), float)[self.stage])

    def _asked(self, tail: float) -> list[float]:
        return [tail * (EARLY if one.is_early else 1) for one in self.seasons]

    def swing(self, chance: Chance) -> tuple[float, float | None]:
        """Return how far the latest year is expected off the level at most, as it is charted.

        And how far it could be while the baseline alone says it: to the upper end of a 95 %
        interval. None once more is known.
        """
        own = self.part(max(0, len(self.stage) - POINTS_AT_LEAST), len(self.stage))
        off = own.off(1)
        middles = [
            chance.middles(own.sizes, replace(off, shift=shift))
            for shift in (off.shift, np.abs(off.shift) + 1.96 * np.sqrt(off.shared))
        ]
        swings = [float(np.abs(each - chance.centre).max()) for each in middles]
        is_early = self.seasons[self.stage[-1]].is_early
        return swings[0], swings[1] if is_early else None

    def early(self, tail: float, at: int) -> float:
        """Return the tail to use for a wanted tail of a run that ends at a period."""
        return tail * EARLY_RUN if self.seasons[self.stage[at]].is_early else tail

    @property
    def wider(self) -> float:
        """How many times wider than chance the baseline varies; 1 where chance explains it."""
        return self.seasons[0].wider

    def alike(self, at: int) -> dict[float, float]:
        """Return how probable each likeness of neighbours is, for a run that ends at a period."""
        return dict(zip(ALIKE, self.seasons[self.stage[at]].alike, strict=True))

    def ahead(self, periods: int) -> "Expected":
        """Return the last periods as those to come will be judged, by the latest of what is known.

        The season of the same months stands in for that of the next ones.
        """
        last = self.part(len(self.stage) - periods, len(self.stage))
        latest = np.full(periods, len(self.seasons) - 1)
        return Expected(self.seasons, latest, last.at, last.sizes)

    def part(self, first: int, stop: int) -> "Expected":
        """Return the same of some of the periods."""
        known = {
            periods: one.part(first, max(first, stop - periods + 1))
            for periods, one in self.known.items()
        }
        return Expected(
            self.seasons,
            self.stage[first:stop],
            self.at + first,
            self.sizes[first:stop],
            known,
        )


def _waves(starts: pd.Series) -> Array:
    """Return the cosine and sine of one and of two waves a year: (points, 4)."""
    angle = 2 * np.pi * (starts.dt.month.to_numpy() - 1) / 12
    return np.column_stack([f(k * angle) for k in (1, 2) for f in (np.cos, np.sin)])


def _on_scale(chance: Chance, points: pd.DataFrame) -> Values:
    """Return the points on the scale of effects."""
    rate, size = points["rate"].to_numpy(float), points["size"].to_numpy(float)
    prior = np.array(SEASON)
    if isinstance(chance, Share):
        mean = chance.mean
        slope = mean * (1 - mean)
        return Values((rate - mean) / slope, 1 / (size * slope), prior, size, mean, True)
    if isinstance(chance, Rate):
        mean = (chance.events + 0.5) / chance.exposure
        return Values((rate - mean) / mean, 1 / (size * mean), prior, size, mean)
    assert isinstance(chance, Level)
    variance = np.full(len(rate), chance.sigma**2)
    return Values(rate - chance.mean, variance, chance.sigma * np.array(SEASON_OF_VALUES), size)


def _design(history: pd.DataFrame, phases: list[Phase], start: int) -> Design:
    """Lay levels, waves and drift over the points of some phases; of the last, all points."""
    levels = np.zeros((len(history), len(phases)))
    drift = np.zeros((len(history), len(history)))
    for column, phase in enumerate(phases):
        stop = len(history) if column + 1 == len(phases) else phase.stop - start
        own = slice(phase.first - start, stop)
        levels[own, column] = 1
        since = np.maximum(np.arange(own.stop - own.start) - phase.baseline + 1, 0)
        drift[own, own] = np.minimum(since[:, None], since)
    columns = np.hstack([levels, _waves(history["start_on"])])
    return Design(columns, len(phases), drift, phases, start)


def learn(
    chance: Chance, points: pd.DataFrame, phases: list[Phase], number: int
) -> Expected | None:
    """Return what to expect of phase ``number`` (from 0); None where points have no dates.

    ``points``: all of the chart. What lies before a date of policy is another measure, and says
    nothing; what lies before an accepted level says what the season is.
    """
    phase = phases[number]
    is_time = isinstance(chance, Level) and chance.is_time  # from event to event: no months
    has_months = isinstance(chance, Share | Rate | Level) and not is_time
    if not has_months or points["start_on"].isna().any():
        return None
    opened = max(i for i in range(number + 1) if i == 0 or phases[i].reason != "accepted")
    start = phases[opened].first
    history = points.iloc[start : phase.drawn_stop].reset_index(drop=True)
    values = _on_scale(chance, history)
    design = _design(history, phases[opened : number + 1], start)
    sizes = history["size"].to_numpy(float)
    level = np.zeros(len(history))
    level[phase.first - start : phase.baseline_stop - start] = 1
    level *= sizes / (level @ sizes)
    last = phase.drawn_stop - start
    # Where a year has just become full, what is learned from it is for the periods to come.
    stops = list(range(phase.baseline_stop - start, last + 1, POINTS_AT_LEAST)) or [last]
    seasons = tuple(season_of(values, design, stop, level) for stop in stops)
    place = np.arange(phase.first - start, last)
    stage = np.maximum(np.searchsorted(stops, place, side="right") - 1, 0)
    return Expected(seasons, stage, phase.first - start, sizes[phase.first - start :])
