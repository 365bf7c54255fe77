"""Many measures, many months: what chance alone would show, and what a chart could miss.

With forty charts something signals sooner or later. So every list of signals says how many
chance alone would show where nothing changed, and every chart how surely it would see a move.
Both are worked out from the chart's own numbers and limits; ``tests/benchmark/false_alarms.py``
measures whether what is said is true.
"""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from pipelines.statistics import rules, runs
from pipelines.statistics.chance import Chance, Level, Off, Rate, Share
from pipelines.statistics.expected import Expected
from pipelines.statistics.sigma import Array

MOVE: Final = 0.10  # of 1: the move that a chart is asked about
SOON: Final = rules.TOGETHER_PERIODS  # within so many periods
_TAIL: Final = {1: rules.OUTSIDE_TAIL, SOON: rules.TOGETHER_TAIL}
_DRAWS: Final = 4000
_LEVELS: Final = 200  # of the baseline's doubt, each drawn from twenty times
_RUN_OF: Final = 24
_TREND: Final = 2 / 40320  # eight points all rising, or all falling: 2 / 8!


def expected_by_chance(false_alarm: ArrayLike, looks: ArrayLike = 1) -> float:
    """Return how many signals come by chance where nothing changed.

    ``false_alarm``: the chance that one look signals falsely, one number or one for each chart;
    ``looks``: how often each was looked at (months). The expectation is right even where charts
    share newborns and so signal together; then they come in clumps.

    >>> round(expected_by_chance(0.0027, 40 * 12), 2)
    1.3
    """
    chance, times = np.broadcast_arrays(np.asarray(false_alarm, float), np.asarray(looks, float))
    if not (np.isfinite(chance).all() and np.isfinite(times).all()):
        raise ValueError("every chart needs its false-alarm probability and its number of looks.")
    if (chance < 0).any() or (chance > 1).any() or (times < 0).any():
        raise ValueError("a false-alarm probability lies between 0 and 1.")
    return float((chance * times).sum())


def adjusted(by_chance: ArrayLike, looked_at: int) -> Array:
    """Return, of signals as strong as each or stronger, the share that luck alone would give.

    ``by_chance``: of each signal, the chance that its chart shows one so strong where nothing
    changed; ``looked_at``: how many charts were looked at, with a signal or without (Benjamini
    and Hochberg 1995, the false discovery rate; charts of one unit move together, for which it
    holds too where they do so the same way: Benjamini and Yekutieli 2001, both from memory).

    >>> [round(float(share), 3) for share in adjusted([0.001, 0.02], 40)]
    [0.04, 0.4]
    """
    given = np.asarray(by_chance, float)
    if len(given) > looked_at or not ((given >= 0) & (given <= 1)).all():
        raise ValueError("every chance lies between 0 and 1, and no more charts than looked at.")
    padded = np.concatenate([given, np.ones(looked_at - len(given))])
    return np.asarray(stats.false_discovery_control(padded, method="bh")[: len(given)])


def so_strong(strength: float, periods: int, at_all: float) -> float:
    """Return the chance that a chart shows so strong a signal now where nothing changed.

    ``strength``: in standard deviations, of the last of its ``periods`` together, so many as
    signalled; NaN where none is known. ``at_all``: the chance of any signal now.

    >>> round(so_strong(4.5, 36, 0.007), 5), so_strong(1.0, 36, 0.007)
    (0.00024, 0.007)
    """
    if np.isnan(strength):
        return at_all
    return min(at_all, float(2 * periods * stats.norm.sf(strength)))


def now_by_chance(chance: Chance, size: Array, beside: Expected | None) -> float:
    """Return the chance that a signal reaches the last period where nothing changed.

    ``size``: of every period of the phase. The limits are those that are drawn, which allow for
    season and likeness; chance is the sampling of newborns about a level that is not known
    better than its baseline says.
    """
    parts = [_beyond(chance, size, beside, periods) for periods in (1, SOON)]
    return min(1.0, sum(parts) + _run_now(chance, size, beside) + _TREND)


def _limits(
    chance: Chance, size: Array, beside: Expected | None, periods: int, last: int = 1
) -> tuple[Array, Array]:
    """Return the lowest and highest totals that are allowed of ``periods`` together.

    Of each of the ``last`` places where so many end.
    """
    tail = _TAIL[periods]
    together = np.convolve(size, np.ones(periods), mode="valid")[-last:]
    ends = len(size) - periods + 1
    off = None if beside is None else beside.off(periods).part(ends - last, ends)
    level = rules.level(chance, beside, tail)
    lower, upper = chance.limits(together, level[-last:] if level.ndim else level, off)
    return np.rint(lower * together), np.rint(upper * together)


def _plain(chance: Chance, off: Off) -> Off:
    """Return the same expectation with no doubt but that about the level."""
    assert isinstance(chance, Share | Rate)
    doubt = np.full(len(off.shift), chance.doubt)
    return Off(off.shift, doubt, doubt, np.ones(len(doubt)))


def _beyond(chance: Chance, size: Array, beside: Expected | None, periods: int) -> float:
    """Return the chance that the last periods, together, lie beyond their limits."""
    if len(size) < periods:
        return 0.0
    tail = _TAIL[periods]
    if isinstance(chance, Level) or beside is None:
        return 2 * tail
    low, high = (float(each[0]) for each in _limits(chance, size, beside, periods))
    together = np.array([size[-periods:].sum()])
    ends = len(size) - periods + 1
    off = _plain(chance, beside.off(periods).part(ends - 1, ends))
    few, _ = chance.tails(np.array([max(low - 1, 0.0)]), together, periods, off)
    above = high + 1 if not isinstance(chance, Share) else min(high + 1, together[0])
    _, many = chance.tails(np.array([above]), together, periods, off)
    can = high < together[0] or not isinstance(chance, Share)
    return (float(few[0]) if low > 0 else 0.0) + (float(many[0]) if can else 0.0)


def _run_now(chance: Chance, size: Array, beside: Expected | None) -> float:
    """Return the chance that a run too unlikely by chance reaches the last period."""
    last = len(size) - 1
    off = None if beside is None else beside.off(1)
    enough, alike = rules.of_a_run(beside, last)
    fewest = [_fewest(each[:, ::-1], alike, enough) for each in chance.side_chances(size, off)]
    back = max(fewest)
    if not back:
        return 0.0
    plainly = None
    if off is not None and isinstance(chance, Share | Rate):
        plainly = _plain(chance, off.part(len(size) - back, len(size)))
    total = 0.0
    for plain, points in zip(chance.side_chances(size[-back:], plainly), fewest, strict=True):
        if points:
            total += float(runs.chances_in_a_row(plain[:, -points:][:, ::-1], rules.NOT_ALIKE)[-1])
    return total


def _fewest(each: Array, alike: Mapping[float, float], enough: float) -> int:
    """Return how many points make a run too unlikely; 0: all of them do not.

    Nearly always two dozen do, and more are not looked at.
    """
    for points in (_RUN_OF, each.shape[1]):
        chances = runs.chances_in_a_row(each[:, :points], alike)
        if chances[-1] < enough:
            return int(np.argmax(chances < enough)) + 1
    return 0


def sees(chance: Chance, size: Array, beside: Expected | None, is_fall: bool) -> float | None:
    """Return the chance that a share which moves by ten points is seen within six periods.

    By a period outside, or six together outside, with the sizes of the last six periods and the
    limits that will hold from now on; None for what is no share, and where there is no room for
    such a move. Drawn, always alike.
    """
    if not isinstance(chance, Share) or len(size) < SOON:
        return None
    moved = chance.centre + (-MOVE if is_fall else MOVE)
    if not 0 <= moved <= 1:
        return None
    rng = np.random.default_rng(0)
    own = size[-SOON:]
    ahead = None if beside is None else beside.ahead(SOON)
    level = np.repeat(chance.rates((np.arange(_LEVELS) + 0.5) / _LEVELS), _DRAWS // _LEVELS)
    rate = np.clip(level + moved - chance.centre, 0, 1)[:, None]
    drawn = rng.binomial(np.rint(own).astype(int), rate, (_DRAWS, SOON))
    low, high = _limits(chance, own, ahead, 1, SOON)
    low_six, high_six = _limits(chance, own, ahead, SOON)
    if is_fall:
        seen = (drawn < low).any(axis=1) | (drawn.sum(axis=1) < low_six)
    else:
        seen = (drawn > high).any(axis=1) | (drawn.sum(axis=1) > high_six)
    return float(seen.mean())
