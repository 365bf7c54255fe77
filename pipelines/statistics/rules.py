"""The rules that call something a signal, each by its name in words.

``WITH_LIMITS`` applies where there are limits, ``RUN_CHART`` where there are none. The levels
were chosen by measuring: ``false_alarms.toml`` has the share of chance charts of 24 months that
the former calls wrongly, and how soon it finds a fall.
Rules act on places in a sequence (0, 1, ...); :mod:`pipelines.statistics.over_time` gives dates.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pipelines.statistics import runs
from pipelines.statistics.chance import Chance, Off
from pipelines.statistics.expected import Expected
from pipelines.statistics.sigma import Array

OUTSIDE: Final = "outside limits"
TOGETHER: Final = "six together outside limits"
SHIFT: Final = "shift"
TREND: Final = "trend"
LONGEST_RUN: Final = "long run"
CROSSINGS: Final = "few crossings"

WITH_LIMITS: Final = (OUTSIDE, TOGETHER, SHIFT, TREND)
RUN_CHART: Final = (LONGEST_RUN, CROSSINGS)

OUTSIDE_TAIL: Final = 0.0008  # of one period below its limit, and of one above
TOGETHER_PERIODS: Final = 6  # half a year of months
# Six periods carry most of the news of a lasting move, so they have most of what false alarms
# there may be. Of falls from 70 to 60 % at 100 births a month 60 of 100 were found with 0.0013
# here, 0.001 for one period and 1 in 600 for a run, 77 with 0.0035, 0.0007 and 1 in 1,200; of
# charts with neighbouring months alike 13 and 14 of 100 signal falsely within 60 months.
TOGETHER_TAIL: Final = 0.0035
# A run on one side of the centre counts once its whole chance falls below this; fair tosses do
# with nine, and as the centre is an estimate and neighbours may be alike, more are needed.
SHIFT_CHANCE: Final = 1 / 1000
# Eight points all rising: 2 / 8! at each place by chance. Seven do so ten times as often where
# neighbours are alike: on 12 of 100 charts of 60 months at a correlation of 0.3.
TREND_POINTS: Final = 8
_RUN_AT_LEAST: Final = 4  # shorter ones are no run, however uneven the line
NOT_ALIKE: Final = {0.0: 1.0}


@dataclass(frozen=True)
class Found:
    """One signal: ``at`` is where the rule first spoke, ``first`` to ``last`` what it is about.

    ``direction``: ``up`` or ``down``; empty where the rule has none (few crossings).
    """

    rule: str
    direction: str
    at: int
    first: int
    last: int


@dataclass(frozen=True)
class Periods:
    """Periods in order: charted values, totals that add up, sizes (denominators)."""

    values: Array
    totals: Array
    sizes: Array


def _named(sign: int) -> str:
    return "up" if sign > 0 else "down"


def _signs(low: Array, high: Array, tail: Array) -> Array:
    return np.where(low < tail, -1, np.where(high < tail, 1, 0))


def outside(chance: Chance, periods: Periods, expected: Expected | None = None) -> list[Found]:
    """Single periods beyond the limits; one on a limit is not beyond it."""
    signs = _outside_signs(chance, periods, expected)
    return [
        Found(OUTSIDE, _named(int(signs[at])), int(at), int(at), int(at))
        for at in np.flatnonzero(signs)
    ]


def _off(expected: Expected | None, periods: int) -> Off | None:
    return None if expected is None else expected.off(periods)


def level(chance: Chance, expected: Expected | None, tail: float) -> Array:
    """Return the tail to use for a wanted tail, of each period: smaller where widths are unsure."""
    if expected is None:
        return np.asarray(chance.level(tail))
    return expected.level(tail)


def limit_sds(expected: Expected | None, periods: int) -> Array:
    """Return how many standard deviations of chance the limits of each period stand for.

    Those beyond which a normal law has the tail that is asked: 3.2, or 2.7 while a season is
    known from the baseline alone.
    """
    tail = np.full(periods, OUTSIDE_TAIL) if expected is None else expected.asked(OUTSIDE_TAIL)
    return np.asarray(-ndtri(tail))


def _outside_signs(chance: Chance, periods: Periods, expected: Expected | None) -> Array:
    low, high = chance.tails(periods.totals, periods.sizes, 1, _off(expected, 1))
    return _signs(low, high, level(chance, expected, OUTSIDE_TAIL))


def _windows(values: Array) -> Array:
    """Return the sum of every six neighbours, in the order of the last of them."""
    return np.convolve(values, np.ones(TOGETHER_PERIODS), mode="valid")


def together(chance: Chance, periods: Periods, expected: Expected | None = None) -> list[Found]:
    """Six neighbouring periods taken together beyond what chance allows of them.

    Left out where one of the six lies outside on the same side by itself: that is told, and
    one odd month would colour eleven. Overlapping sixes on one side are one signal.
    """
    if len(periods.values) < TOGETHER_PERIODS:
        return []
    totals, sizes = _windows(periods.totals), _windows(periods.sizes)
    off = _off(expected, TOGETHER_PERIODS)
    low, high = chance.tails(totals, sizes, TOGETHER_PERIODS, off)
    tail = level(chance, expected, TOGETHER_TAIL)
    signs = _signs(low, high, tail if tail.ndim == 0 else tail[TOGETHER_PERIODS - 1 :])
    single = _outside_signs(chance, periods, expected)
    for back in range(TOGETHER_PERIODS):
        same = single[back : len(signs) + back] == signs
        signs = np.where(same, 0, signs)
    edges = np.flatnonzero(np.diff(signs, prepend=0, append=0))
    blocks = pairwise(edges)
    span = TOGETHER_PERIODS - 1
    return [
        Found(TOGETHER, _named(int(signs[a])), int(a) + span, int(a), int(b) - 1 + span)
        for a, b in blocks
        if signs[a]
    ]


def beside(chance: Chance, periods: Periods, expected: Expected | None = None) -> Array:
    """Return how far each period lies off what is expected of it."""
    return periods.values - chance.middles(periods.sizes, _off(expected, 1))


def shift(
    chance: Chance,
    periods: Periods,
    expected: Expected | None = None,
    spoken: Sequence[Found] = (),
) -> list[Found]:
    """A run on one side of the centre that is too unlikely by chance, or was spoken of.

    The chance of the whole run is averaged over the rates that the baseline leaves possible,
    so an uneven line (20 births at 97 %) or a baseline that sits off the truth asks for a
    longer run, and so do months that are like their neighbours. Points on the line neither add
    nor break. ``spoken``: what other rules found. A run in which they spoke goes on speaking, so
    no chart signals by that alone.
    """
    signs = runs.sides(beside(chance, periods, expected), 0.0)
    below, above = chance.side_chances(periods.sizes, _off(expected, 1))
    found = []
    for sign, first, last in runs.stretches(signs):
        useful = first + np.flatnonzero(signs[first : last + 1])
        at = None
        if len(useful) >= _RUN_AT_LEAST:
            at = _first_unlikely((above if sign > 0 else below)[:, useful], useful, expected)
        if at is None and last - first + 1 >= TOGETHER_PERIODS:
            at = _first_spoken(spoken, _named(sign), first, last)
        if at is not None:
            found.append(Found(SHIFT, _named(sign), at, first, last))
    return found


def _first_unlikely(each: Array, useful: NDArray[np.int_], expected: Expected | None) -> int | None:
    """Return the place at which a run was first too unlikely, by what was known when it came.

    Not by what is known at its end: what moved and stayed makes neighbours look alike, and an
    alarm must not fall silent because it goes on. ``each``: the chance of each point of the run,
    which lie at ``useful``.
    """
    # Being alike only makes a run more likely: most are short, and not looked at further.
    alone = runs.chances_in_a_row(each, NOT_ALIKE)
    stage = np.zeros(len(useful)) if expected is None else expected.stage[useful]
    for one in np.unique(stage):
        own = np.flatnonzero(stage == one)
        end = int(own[-1])
        likely, alike = of_a_run(expected, int(useful[end]))
        if alone[end] >= likely:
            continue
        so_far = runs.chances_in_a_row(each[:, : end + 1], alike)[own]
        unlikely = own[so_far < likely * (1 - 1e-9)]
        if len(unlikely):
            return int(useful[unlikely[0]])
    return None


def of_a_run(expected: Expected | None, at: int) -> tuple[float, Mapping[float, float]]:
    """Return the chance below which a run that ends at a period counts, and its likenesses."""
    if expected is None:
        return SHIFT_CHANCE, NOT_ALIKE
    return expected.early(SHIFT_CHANCE, at), expected.alike(at)


def _first_spoken(spoken: Sequence[Found], direction: str, first: int, last: int) -> int | None:
    """Return the place at which a run was first spoken of: by six together, or by two months.

    What has spoken speaks until a month lies on the other side. Another year is another season to
    learn and makes limits wider: that is no reason to fall silent.
    """
    own = [one for one in spoken if one.direction == direction and first <= one.at <= last]
    single = sorted(one.at for one in own if one.rule == OUTSIDE)
    at = [one.at for one in own if one.rule == TOGETHER] + single[1:2]
    return min(at, default=None)


def trend(values: Array) -> list[Found]:
    """Eight or more points steadily rising or falling; equal neighbours count once."""
    found = []
    for sign, first, last, points in runs.trend_stretches(values):
        if points >= TREND_POINTS:
            moved = np.flatnonzero(np.diff(values[first : last + 1]))
            at = first + int(moved[TREND_POINTS - 2]) + 1
            found.append(Found(TREND, _named(sign), at, first, last))
    return found


def run_chart(values: Array, line: float) -> list[Found]:
    """Longest run and crossings about a line, by the limits of Anhoj and Olesen (2014).

    Needs ten points off the line and a third of them on either side; else finds nothing.
    """
    counts = runs.runs_about(values, line)
    if counts.useful < runs.USEFUL_AT_LEAST or not counts.line_divides:
        return []
    found = []
    limit = runs.longest_run_limit(counts.useful)
    signs = runs.sides(values, line)
    for sign, first, last in runs.stretches(signs):
        useful = first + np.flatnonzero(signs[first : last + 1])
        if len(useful) > limit:
            found.append(Found(LONGEST_RUN, _named(sign), int(useful[limit]), first, last))
    if counts.crossings < runs.crossings_limit(counts.useful):
        end = len(values) - 1
        found.append(Found(CROSSINGS, "", end, 0, end))
    return found


def judge(chance: Chance, periods: Periods, expected: Expected | None = None) -> list[Found]:
    """Apply the rules of ``WITH_LIMITS``; what they find in the order of the periods.

    A trend is one of the values beside the season.
    """
    spoken = [*outside(chance, periods, expected), *together(chance, periods, expected)]
    found = [
        *spoken,
        *shift(chance, periods, expected, spoken),
        *trend(beside(chance, periods, expected)),
    ]
    return sorted(found, key=lambda one: (one.at, one.first))
