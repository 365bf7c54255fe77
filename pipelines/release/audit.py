"""The interval audit: how far each masked count can be narrowed from what is published.

Arrays in, arrays out. A masked count is proved safe by two sets of whole, non-negative counts
that fit everything published and differ in it by at least the threshold. Both are found by
linear programming (HiGHS, through scipy); a count without such a proof gets its exact range.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csgraph

from pipelines.release.sums import Bools, Ints, Sums

Floats = npt.NDArray[np.float64]

_IDLE: Final = 3  # steps that may prove nothing new before the exact ranges are asked for
_SECONDS: Final = 2.0  # for one search of whole counts where the corner is not whole
_EXACT_AT_ONCE: Final = 24  # exact ranges between two steps of masking
_WHOLE: Final = 1e-6


@dataclass(frozen=True)
class Narrow:
    """A masked variable whose feasible range is too narrow, and the shown ones that narrow it."""

    variable: int
    low: float
    high: float
    because: Ints


@dataclass
class _Block:
    """Some masked variables that may vary while all others stay as they are."""

    free: Ints
    matrix: Any  # scipy.sparse.csr_array of int64
    right: Ints

    @classmethod
    def of(cls, sums: Sums, free: Ints) -> "_Block":
        columns = sums.matrix[:, free]
        touched = np.flatnonzero(np.diff(columns.tocsr().indptr))
        matrix = columns.tocsr()[touched]
        return cls(free, matrix, matrix @ sums.values[free])

    def fits(self, counts: Ints) -> bool:
        return bool((counts >= 0).all() and (self.matrix @ counts == self.right).all())


class Audit:
    """Ranges seen so far of the masked variables; masking more only widens them."""

    def __init__(self, sums: Sums, threshold: int) -> None:
        self.sums, self.threshold = sums, threshold
        self.low, self.high = sums.values.copy(), sums.values.copy()
        self._chance = np.random.default_rng(11)

    def unproved(self, asked: Bools) -> Ints:
        """Return the variables of ``asked`` not yet seen to range over the threshold."""
        return np.flatnonzero(asked & (self.high - self.low < self.threshold))

    def see(self, hidden: Bools, asked: Bools, groups: Sequence[Ints]) -> None:
        """Widen the ranges seen, group by group of variables, then whole components.

        groups: arrays that give each variable its group, or -1; what is in no group, or in
        another one, stays as it is, which can only narrow what is seen.
        """
        for group in (*groups, None):
            left = self.unproved(asked)
            if not len(left):
                return
            numbers = self._components(hidden) if group is None else np.where(hidden, group, -1)
            for number in np.unique(numbers[left]):
                if number >= 0:
                    block = _Block.of(self.sums, np.flatnonzero(numbers == number))
                    self._push(block, asked)

    def _components(self, hidden: Bools) -> Ints:
        """Number the groups of hidden variables that share sums; -1 for what is shown."""
        free = np.flatnonzero(hidden)
        columns = sparse.csr_array(self.sums.matrix[:, free])
        both = sparse.block_array([[None, columns], [columns.T, None]])
        _, labels = csgraph.connected_components(both, directed=False)
        numbers = np.full(len(hidden), -1)
        numbers[free] = labels[columns.shape[0] :]
        return numbers

    def _push(self, block: _Block, asked: Bools) -> None:
        """Push the unproved variables up, weighed at random, until that proves no more.

        What a sum gives to one variable it takes from the others, so each step shows high
        counts of some and low counts of the rest.
        """
        idle = 0
        while idle < _IDLE:
            wanted = self._wanted(block, asked)
            if not wanted.any():
                return
            goal = np.where(wanted, -self._chance.lognormal(0, 1, len(wanted)), 0.0)
            self._note(block, self._solve(block, goal))
            idle = 0 if self._wanted(block, asked).sum() < wanted.sum() else idle + 1

    def _wanted(self, block: _Block, asked: Bools) -> Bools:
        seen = self.high[block.free] - self.low[block.free]
        return np.asarray(asked[block.free] & (seen < self.threshold))

    def _solve(self, block: _Block, goal: Floats) -> Ints | None:
        """Return whole counts that fit, as far against ``goal`` as a step may take them.

        No variable goes further than its proof needs: that leaves room for the others.
        """
        lowest = np.maximum(self.high[block.free] - self.threshold, 0)
        lowest = np.minimum(lowest, self.sums.values[block.free])
        highest = self.low[block.free] + self.threshold
        highest = np.maximum(highest, self.sums.values[block.free])
        bounds = np.column_stack([lowest, highest])
        result = linprog(goal, A_eq=block.matrix, b_eq=block.right, bounds=bounds, method="highs")
        if result.x is None:
            return None
        counts = np.rint(result.x).astype(np.int64)
        return counts if block.fits(counts) else self._whole(block, goal, bounds)

    def _note(self, block: _Block, counts: Ints | None) -> None:
        if counts is not None and block.fits(counts):
            self.low[block.free] = np.minimum(self.low[block.free], counts)
            self.high[block.free] = np.maximum(self.high[block.free], counts)

    def narrow(self, hidden: Bools, asked: Bools) -> list[Narrow]:
        """Return the unproved variables whose exact range is too narrow, a few at a time."""
        found: list[Narrow] = []
        numbers = self._components(hidden)
        blocks: dict[int, _Block] = {}
        exact = 0
        for variable in self.unproved(asked):
            if self.high[variable] - self.low[variable] >= self.threshold:
                continue  # seen meanwhile
            if exact >= _EXACT_AT_ONCE and found:
                break
            exact += 1
            number = int(numbers[variable])
            if number not in blocks:
                blocks[number] = _Block.of(self.sums, np.flatnonzero(numbers == number))
            told = self._exact(blocks[number], int(variable), hidden)
            if told is not None:
                found.append(told)
        return found

    def _exact(self, block: _Block, variable: int, hidden: Bools) -> Narrow | None:
        goal = (block.free == variable).astype(float)
        ends: list[float] = []
        because: set[int] = set()
        for sign in (-1.0, 1.0):
            result = linprog(sign * goal, A_eq=block.matrix, b_eq=block.right, method="highs")
            if result.status == 3:  # no bound: any count fits
                self._mark_unbounded(variable)
                return None
            counts = np.rint(result.x).astype(np.int64)
            if not block.fits(counts):
                counts = self._whole(block, sign * goal)
            self._note(block, counts)
            ends.append(float(counts @ goal))
            because |= set(self._shown_in(block, hidden, result.eqlin.marginals))
        if ends[0] - ends[1] >= self.threshold:
            return None
        return Narrow(variable, ends[1], ends[0], np.array(sorted(because), np.int64))

    def _mark_unbounded(self, variable: int) -> None:
        self.high[variable] = self.low[variable] + self.threshold

    def _whole(self, block: _Block, goal: Floats, bounds: Floats | None = None) -> Ints:
        """Return good whole counts where the linear programme's corner is not whole."""
        fit = LinearConstraint(block.matrix, block.right, block.right)
        within = None if bounds is None else Bounds(bounds[:, 0], bounds[:, 1])
        options = {"time_limit": _SECONDS, "mip_rel_gap": 0.0 if bounds is None else 0.2}
        whole = np.ones(len(goal))
        result = milp(goal, constraints=fit, integrality=whole, bounds=within, options=options)
        if result.x is None:  # the true counts fit, so the search ran out of time
            return np.asarray(self.sums.values[block.free])
        return np.asarray(np.rint(result.x), np.int64)

    def _shown_in(self, block: _Block, hidden: Bools, prices: Floats) -> list[int]:
        """Return the shown variables that carry a price: those the bound is worked out from."""
        columns = self.sums.matrix[:, block.free].tocsr()
        touched = np.flatnonzero(np.diff(columns.indptr))
        weight = self.sums.matrix[touched].T @ prices
        return [int(one) for one in np.flatnonzero((np.abs(weight) > _WHOLE) & ~hidden)]
