"""Priors learned from the unit's other measures and earlier years, before a change.

How far trends and seasons of a unit's own measures lie from zero, beyond their errors, says how
far the next one may (moment estimate of a variance between, DerSimonian and Laird, Control Clin
Trials 1986;7:177). The printed prior counts as so many measures more and is never
undercut: a unit may be more restless than it, but that others lie still does not say that this
measure will.
"""

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from pipelines.statistics import interrupted, shrunk
from pipelines.statistics.interrupted import PRIORS, YEAR, Priors, Series, Split


def learned(before: Iterable[Series]) -> tuple[Priors, int]:
    """Return the priors for a change, and from how many series they were learned.

    ``before``: counts by month of other measures, all of them before the change.
    """
    told = shrunk.numbers()["learned"]
    wide = PRIORS.times(told["wide"])
    trends, seasons = [], []
    for series in before:
        kept = series.where(series.total > 0)
        if len(kept.month) < YEAR or not _has_both(kept):
            continue
        last = int(kept.month[-1]) + 1
        found = interrupted.course(kept, Split(last, last), wide).posterior
        squares = found.mean**2 - np.diag(found.covariance)
        trends.append(float(squares[1]))
        if len(kept.month) >= 2 * YEAR:
            seasons.append(float(squares[4:].mean()))
    return replace(
        PRIORS,
        trend=_pooled(trends, PRIORS.trend, told["trend"]),
        season=_pooled(seasons, PRIORS.season, told["season"]),
    ), len(trends)


def _has_both(series: Series) -> bool:
    met = series.events.sum()
    fewest = interrupted.FEWEST_EVENTS * YEAR
    return bool(min(met, series.total.sum() - met) >= fewest)


def _pooled(squares: list[float], printed: float, bounds: list[float]) -> float:
    """Return the standard deviation, the printed one counting as so many measures."""
    as_many = float(shrunk.numbers()["learned"]["as_many"])
    found = (as_many * printed**2 + sum(squares)) / (as_many + len(squares))
    low, high = bounds
    return min(max(math.sqrt(max(found, 0.0)), low), high)
