"""A change beside a unit without it: one model of both, so that what both share takes no room.

Both units follow one course (trend, season, and whatever happened to both at the time of the
change); the other unit may differ from it a little, by priors of priors.toml. The change is what
the unit with it did beyond that (a controlled interrupted series: Lopez Bernal and others, Int J
Epidemiol 2018;47:2082, from memory).
"""

from typing import Final

import numpy as np

from pipelines.statistics import shrunk
from pipelines.statistics.effects import MONTHS, Span, counted, likely_points, middle, span_of
from pipelines.statistics.interrupted import NEVER_MOVES, Fit
from pipelines.statistics.shrunk import Floats, Seen

# Columns: those of the unit with the change, then level, trend, change of trend, sine and cosine by
# which the other differs, then the step and change of trend that both had.
OWN: Final = 7
CHANGE: Final = [2, 3]  # step, change of trend
DIFFERS: Final = [0, 1, 3, 5, 6]


def _columns(own: Floats, other: Floats) -> Floats:
    """Return the columns of both, the unit with the change first."""
    here = np.hstack([own, np.zeros((len(own), len(DIFFERS))), own[:, CHANGE]])
    common = other.copy()
    common[:, CHANGE] = 0.0
    there = np.hstack([common, other[:, DIFFERS], other[:, CHANGE]])
    return np.vstack([here, there])


def _spread(fit: Fit) -> Floats:
    own, told = fit.priors, shrunk.numbers()["beside"]
    wave = (told["season"], told["season"])
    differs = (own.level, told["trend"], told["slope_change"], *wave)
    shared = (told["shared_step"], own.slope_change)
    told = np.array([*own.spread(), *differs, *shared])
    return np.asarray(np.maximum(told, NEVER_MOVES))


def difference(here: Fit, there: Fit, most: int | None = MONTHS) -> Span:
    """Return the effect here beyond what happened there, in shares of 1.

    ``here`` and ``there``: fitted shares with one split, there without the change.
    """
    columns = _columns(here.design(here.month), there.design(there.month))
    one, two = here.seen, there.seen
    seen = Seen(
        np.concatenate([one.month, two.month]),
        np.concatenate([one.value, two.value]),
        np.concatenate([one.variance, two.variance]),
        group=np.repeat([0, 1], [len(one.month), len(two.month)]),
    )
    found = shrunk.posterior(columns, seen, _spread(here))
    over = counted(here, most)
    both = [_columns(each, np.empty((0, OWN))) for each in (over.with_change, over.without)]
    # Without the change, what both units had at that time is left.
    both[1][:, -2:] = both[0][:, -2:]
    with_change, without = (middle(each, over.weights, found.mean, True) for each in both)
    rows = np.array([with_change[1:] - without[1:], without[1:]])
    likely = likely_points(
        with_change[0] - without[0], without[0], rows @ found.covariance @ rows.T
    )
    ends = here.level(np.array([with_change[0], without[0]]))
    return span_of(likely, float(ends[0] - ends[1]))
