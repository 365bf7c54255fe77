"""Runs about a line: sides, crossings, longest run, trend, and how likely they are by chance."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri
from scipy.stats import binom

from pipelines.statistics.sigma import Array

# Anhoj and Olesen 2014: the share of chance series with fewer crossings than the limit.
CROSSINGS_LEVEL: Final = 0.05
USEFUL_AT_LEAST: Final = 10  # Anhoj's limits are tabled from ten points on
# A line with nearly all points on one side crosses seldom by construction, and a run chart of
# it says nothing. Points on the line make this common where most months are at 100 %.
DIVIDES_AT_LEAST: Final = 1 / 3
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)


@dataclass(frozen=True)
class Runs:
    """Counts about a line. ``useful``: points not on it, which alone have a side."""

    useful: int
    above: int
    below: int
    runs: int
    crossings: int
    longest_run: int

    @property
    def line_divides(self) -> bool:
        """Whether at least a third of the useful points lies on either side."""
        return min(self.above, self.below) >= DIVIDES_AT_LEAST * self.useful > 0


def sides(values: ArrayLike, line: float) -> NDArray[np.int_]:
    """Return 1 above the line, -1 below and 0 on it (within rounding)."""
    charted = np.asarray(values, float)
    is_on = np.isclose(charted, line, rtol=1e-12, atol=1e-12)
    return np.where(is_on, 0, np.sign(charted - line)).astype(int)


def stretches(signs: ArrayLike) -> list[tuple[int, int, int]]:
    """Return (sign, first place, last place) of every run; zeros neither end nor lengthen one."""
    places = np.flatnonzero(np.asarray(signs))
    if len(places) == 0:
        return []
    kept = np.asarray(signs)[places]
    cuts = np.flatnonzero(np.diff(kept)) + 1
    groups = zip(np.split(places, cuts), np.split(kept, cuts), strict=True)
    return [(int(sign[0]), int(at[0]), int(at[-1])) for at, sign in groups]


def runs_about(values: ArrayLike, line: float | None = None) -> Runs:
    """Count runs about a line, by default the median; points on it are left out."""
    charted = np.asarray(values, float)
    at = float(np.median(charted)) if line is None else line
    signs = sides(charted, at)
    useful = signs[signs != 0]
    found = stretches(useful)
    longest = max((last - first + 1 for _, first, last in found), default=0)
    above = int((useful > 0).sum())
    return Runs(
        useful=len(useful),
        above=above,
        below=len(useful) - above,
        runs=len(found),
        crossings=max(len(found) - 1, 0),
        longest_run=longest,
    )


def trend_stretches(values: ArrayLike) -> list[tuple[int, int, int, int]]:
    """Return (direction, first place, last place, points) of every steady rise or fall.

    Neighbours of equal value count as one point: they neither lengthen nor end it (Perla 2011).
    """
    charted = np.asarray(values, float)
    steps = np.diff(charted)
    signs = np.where(np.isclose(steps, 0, atol=1e-12), 0, np.sign(steps))
    return [
        (sign, first, last + 1, int(np.count_nonzero(signs[first : last + 1])) + 1)
        for sign, first, last in stretches(signs)
    ]


def longest_run_limit(useful: int) -> int:
    """Return the longest run that chance allows: round(log2 n) + 3 (Anhoj and Olesen 2014)."""
    return round(float(np.log2(useful))) + 3


def crossings_limit(useful: int) -> int:
    """Return the fewest crossings that chance allows: 5 % point of n - 1 fair tosses."""
    return int(binom.ppf(CROSSINGS_LEVEL, useful - 1, 0.5))


def both_beyond(first: Array, second: Array, alike: ArrayLike) -> Array:
    """Return the chance that two normal values alike by ``alike`` (correlation) both are.

    ``first``, ``second``: the chance of each alone; several of ``alike`` come first in what is
    returned. Plackett's integral over the correlation (Biometrika 1954;41:351, from memory), by
    five points of Gauss and Legendre.
    """
    a, b = ndtri(first), ndtri(second)
    squares, product = (a**2 + b**2) / 2, a * b
    correlation = np.reshape(alike, (*np.shape(alike), *[1] * np.ndim(a)))
    added = np.zeros(np.broadcast_shapes(np.shape(correlation), np.shape(a)))
    for node, weight in zip((_NODES + 1) / 2, _WEIGHTS / 2, strict=True):
        at = node * correlation
        rest = 1 - at**2
        scale = weight * correlation / (2 * np.pi * np.sqrt(rest))
        added += scale * np.exp((at / rest) * product - squares / rest)
    return np.asarray(first * second + added)


def chances_in_a_row(each: Array, alike: Mapping[float, float]) -> Array:
    """Return the chance that all points up to each lie on one side.

    ``each``: the chance of every point alone, (grid, points), rows equally likely. ``alike``:
    correlation of neighbours -> how probable it is. Of a point only its neighbour before is
    remembered.
    """
    one = np.clip(each, 1e-12, 1 - 1e-12)
    so_far = alike.get(0.0, 0.0) * np.cumprod(one, axis=1).mean(axis=0)
    likely = {correlation: weight for correlation, weight in alike.items() if correlation}
    if likely:
        steps = np.empty((len(likely), *one.shape))
        steps[:] = one
        steps[:, :, 1:] = both_beyond(one[:, :-1], one[:, 1:], list(likely)) / one[:, :-1]
        in_a_row = np.cumprod(steps, axis=2).mean(axis=1)
        so_far = so_far + np.array(list(likely.values())) @ in_a_row
    return np.asarray(so_far)
