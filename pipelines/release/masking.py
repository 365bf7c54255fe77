"""Small numbers: which counts a released table must not show, and what stands in their place.

Frame in, frame out; no SQL, no files. Three steps: small counts are masked (primary), then
others that would give them away by subtraction (complementary), then ``interval_audit`` proves
of every masked count that what is shown leaves it a range at least as wide as the threshold;
where it does not, more is masked until it does.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipelines.definitions.states import COUNTS, MISSED
from pipelines.release.audit import Audit, Narrow
from pipelines.release.sums import COLUMN, LEVEL_OF, NEWBORNS, Bools, Ints, Sums, find_sums

# No count of 1 to 10 may be shown or worked out, of newborns left out as well: cell size
# suppression policy of the US Centers for Medicare & Medicaid Services, version of 2024-01-26.
# Some local policies use 5 (from memory): hence a setting.
THRESHOLD: Final = 11
# A threshold of 1 masks nothing; pages inside the unit are not masked at all.
LOWEST_THRESHOLD: Final = 2

# What is masked first where something must be: a count of low rank before one of high rank, so
# that the rate (numerator and not_in_numerator) is the last to go. Local decision.
_RANK: Final = {
    **dict.fromkeys((*MISSED, "exclusion", "exception"), 0),
    "initial_population": 1,
    "denominator": 2,
    "not_in_numerator": 4,
    "numerator": 5,
}
_ZERO_RANK: Final = 3  # a zero hides little: before the rate, after everything else
_MANY: Final = 48
_RANK_STEP: Final = 1e12
_NEVER: Final = np.inf
_ABOUT_POPULATION: Final = ("initial_population", "exclusion", "denominator")

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Rule:
    """How a release masks: settings, no names of newborns or units.

    threshold: counts of 1 to threshold - 1 are masked. shows_zero: a zero of at least threshold
    newborns is shown. sensitive: ids of measures of which also "none" and "all" are masked,
    for they tell of every newborn at once.
    """

    threshold: int = THRESHOLD
    shows_zero: bool = True
    sensitive: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.threshold < LOWEST_THRESHOLD:
            raise ValueError(f"threshold {self.threshold}: must be {LOWEST_THRESHOLD} or more")


@dataclass(frozen=True)
class Masked:
    """What protecting a table gave; each of shape (rows, counts).

    hidden: true where a count is masked or not offered. primary: the masks that the count
    itself asks for. derivable: masked counts that can still be worked out, which happens only
    together with counts published before.
    """

    hidden: Bools
    primary: Bools
    derivable: Bools

    @property
    def is_safe(self) -> bool:
        return not bool(self.derivable.any())


KNOWING: Final = (
    "The audit of hidden counts knows what adds up, not all that the measures mean: who knows "
    "which of them are about the same newborns can narrow some hidden counts further, and may "
    "find a few exactly. Give it only to readers whom the unit would trust with that."
)


def hidden_words(threshold: int) -> str:
    """Say what stands in place of a masked count, rate, chart point or description.

    The same words for every mask: to say which counts are small themselves, and which protect
    another, would narrow both.

    >>> hidden_words(11)
    'hidden: protects fewer than 11'
    """
    return f"hidden: protects fewer than {threshold}"


def with_rest(counts: pd.DataFrame) -> pd.DataFrame:
    """Add ``not_in_numerator``: the newborns that the rate counts, less the numerator."""
    return counts.assign(not_in_numerator=counts["counted"] - counts["numerator"])


def primary(rows: pd.DataFrame, rule: Rule) -> Bools:
    """Return which counts ask to be masked themselves, shape (rows, counts).

    A small numerator or not_in_numerator masks both, for each gives the other away.
    """
    counts = rows[list(COUNTS)].to_numpy(np.int64)
    population, denominator = rows["initial_population"], rows["denominator"]
    small = (counts >= 1) & (counts < rule.threshold)
    few_population = population.between(1, rule.threshold - 1).to_numpy()
    few = denominator.between(1, rule.threshold - 1).to_numpy()
    few = few | ((denominator == 0).to_numpy() & few_population)
    is_population = np.isin(COUNTS, _ABOUT_POPULATION)
    may_show = np.where(is_population[None, :], ~few_population[:, None], ~few[:, None])
    somebody = (population > 0).to_numpy()[:, None]
    zero_kept = may_show & (rule.shows_zero | (denominator == 0).to_numpy()[:, None])
    masked = small | ((counts == 0) & somebody & ~zero_kept)
    pair = [COLUMN["numerator"], COLUMN["not_in_numerator"]]
    either = masked[:, pair].any(axis=1) | _tells_of_all(rows, rule)
    masked[:, pair] |= either[:, None]
    return np.asarray(masked)


def _tells_of_all(rows: pd.DataFrame, rule: Rule) -> Bools:
    """Whether a sensitive measure's rate is 0 or 100 %, or has nobody left to be unlike."""
    named = rows["measure_id"].isin(rule.sensitive) | rows["parent_id"].isin(rule.sensitive)
    none_or_all = (rows["numerator"] == 0) | (rows["not_in_numerator"] == 0)
    somebody = rows["numerator"] + rows["not_in_numerator"] > 0
    return np.asarray(named & none_or_all & somebody, bool)


class _Masking:
    """The masks of one table while they grow."""

    def __init__(
        self, rows: pd.DataFrame, sums: Sums, rule: Rule, first: Bools, known: Bools
    ) -> None:
        self.sums, self.threshold = sums, rule.threshold
        size = len(sums.values)
        cell = sums.cell.ravel()
        told = offered_counts(rows).ravel()
        self.offered = _any_at(size, cell[told])
        self.known = _any_at(size, cell[known.ravel()])
        asked = first.ravel() & told
        self.hidden = (~self.offered | _any_at(size, cell[asked])) & ~self.known
        self.rank = np.zeros(size)
        ranks = np.tile([_RANK[name] for name in COUNTS], len(rows)).astype(float)
        np.maximum.at(self.rank, cell, ranks)
        is_small = (sums.values >= 1) & (sums.values < rule.threshold)
        self.changed = _any_at(size, cell[_changed(rows).ravel()])
        self.must_hide = is_small | self.changed
        self.must = self.offered | self.must_hide
        self.inside = abs(sums.matrix)
        self.part = sums.matrix.maximum(0)
        self.total = (-sums.matrix).maximum(0)
        self._show_zeros()

    def _show_zeros(self) -> None:
        """Take zeros that follow from zeros that are shown as known.

        None of all newborns means none of any part of them: masking it there protects nobody.
        """
        while True:
            shown_zero = ((self.sums.values == 0) & ~self.hidden).astype(np.int64)
            no_total = (self.total @ shown_zero > 0).astype(np.int64)
            no_parts = (self.part @ (1 - shown_zero) == 0).astype(np.int64)
            told = (self.part.T @ no_total > 0) | (self.total.T @ no_parts > 0)
            if not (told & ~self.known).any():
                return
            self.known |= told
            self.hidden &= ~told

    def asked(self) -> Bools:
        """Masked variables that must be proved: those offered, and small ones between them."""
        return self.hidden & self.must

    def _cost(self) -> Floats:
        can = self.offered & ~self.hidden & ~self.known
        return np.where(can, self.rank * _RANK_STEP + self.sums.values, _NEVER)

    def complementary(self) -> None:
        """Mask until no single sum gives a masked count away: the fixed point."""
        while True:
            unknown = self._unknown()
            hidden = unknown.astype(np.int64)
            count = self.inside @ hidden
            has_total = (self.total @ hidden) > 0
            summed = self.part @ (hidden * self.sums.values)
            asked = self.inside @ (unknown & self.must).astype(np.int64)
            bare = (count == 1) | (~has_total & (summed < self.threshold))
            chosen = self._cheapest(np.flatnonzero((asked > 0) & bare), has_total)
            if not len(chosen):
                return
            self.hidden[chosen] = True

    def _unknown(self) -> Bools:
        """Masked variables less those not offered that a sum gives away and that may be known."""
        unknown = self.hidden.copy()
        while True:
            hidden = unknown.astype(np.int64)
            count = self.inside @ hidden
            summed = self.part @ (hidden * self.sums.values)
            has_total = (self.total @ hidden) > 0
            given = ((count == 1) | (~has_total & (summed == 0))).astype(np.int64)
            told = unknown & ~self.must & ((self.inside.T @ given) > 0)
            if not told.any():
                return unknown
            unknown &= ~told

    def _cheapest(self, relations: Ints, has_total: Bools) -> Ints:
        """Return the shown variable to mask in each of these sums: low rank, then small."""
        if not len(relations):
            return relations
        some = self.sums.matrix[relations].tocsr()
        owner = np.repeat(np.arange(len(relations)), np.diff(some.indptr))
        cost = self._cost()[some.indices]
        # Where the total is shown a zero adds nothing to the masked sum; where it is masked
        # a zero hides as well as any other.
        is_zero = (self.sums.values[some.indices] == 0) & ~has_total[relations][owner]
        cost = np.where(is_zero, np.maximum(cost, _ZERO_RANK * _RANK_STEP), cost)
        cost = cost + np.where(some.data < 0, 0.5, 0.0)  # of equals a part before the total
        order = np.lexsort((cost, owner))
        _, first = np.unique(owner[order], return_index=True)
        best = order[first]
        best = best[np.isfinite(cost[best])]
        return np.unique(some.indices[best]).astype(np.int64)

    def widen(self, narrow: list[Narrow]) -> bool:
        """Mask one more count for each masked one that is too narrow; false where none can be."""
        cost = self._cost()
        cost = np.where(self.sums.values == 0, np.maximum(cost, _ZERO_RANK * _RANK_STEP), cost)
        chosen: set[int] = set()
        for one in narrow:
            if len(one.because) and np.isfinite(cost[one.because]).any():
                chosen.add(int(one.because[np.argmin(cost[one.because])]))
        self.hidden[list(chosen)] = True
        return bool(chosen)

    def widen_near(self, variables: Ints) -> bool:
        """Mask one more count beside each of many variables, in its sum that hides least."""
        hidden = self.hidden.astype(np.int64)
        summed = self.part @ (hidden * self.sums.values)
        has_total = (self.total @ hidden) > 0
        touching = self.inside[:, variables].tocoo()
        finite = np.isfinite(self._cost()).astype(np.int64)
        able = (self.inside @ finite)[touching.row] > 0
        row, column = touching.row[able], touching.col[able]
        order = np.lexsort((summed[row], has_total[row], column))
        _, first = np.unique(column[order], return_index=True)
        chosen = self._cheapest(np.unique(row[order][first]).astype(np.int64), has_total)
        self.hidden[chosen] = True
        return bool(len(chosen))


def offered_counts(rows: pd.DataFrame) -> Bools:
    """Return the counts to be published, shape (rows, counts)."""
    level = np.where(rows["is_offered"], rows["level"], -1)
    return np.asarray(level[:, None] >= np.array([LEVEL_OF[name] for name in COUNTS]))


def _any_at(size: int, places: Ints) -> Bools:
    found = np.zeros(size, bool)
    found[places] = True
    return found


def _changed(rows: pd.DataFrame) -> Bools:
    """Counts not to be given away since they differ little from what was published before."""
    if "changed" not in rows:
        return np.zeros((len(rows), len(COUNTS)), bool)
    return np.array([np.isin(COUNTS, list(names)) for names in rows["changed"]])


def protect(
    rows: pd.DataFrame,
    rule: Rule,
    known: Bools | None = None,
    nested: Mapping[str, Sequence[str]] | None = None,
    is_complementary: bool = True,
) -> Masked:
    """Return which counts of ``rows`` to mask so that no small one can be worked out.

    rows: as ``sums.find_sums`` needs, and is_offered (bool: the row is to be published; other
    rows only take part in sums); ``changed`` (tuples of names of counts) where a count must not
    be given away. known: shape (rows, counts), counts that a reader has already.
    is_complementary: False leaves only primary masks; for tests of the attack.
    """
    rows = rows.reset_index(drop=True)
    first = primary(rows, rule) & (rows["measure_id"] != NEWBORNS).to_numpy()[:, None]
    given = np.zeros(first.shape, bool) if known is None else known
    sums = find_sums(rows, nested)
    masking = _Masking(rows, sums, rule, first, given)
    left: list[int] = []
    if is_complementary:
        left = _until_proved(masking, _groups(rows, sums))
    # What an earlier release showed below today's threshold is not shown again.
    again = first & given & (rows[list(COUNTS)].to_numpy() > 0)
    hidden = masking.hidden[sums.cell] | again | ~offered_counts(rows)
    # A zero that can be worked out follows from what the rule shows.
    told = _any_at(len(sums.values), np.array(left, np.int64)) & masking.must_hide
    return Masked(hidden, first, told[sums.cell])


def _until_proved(masking: _Masking, groups: list[Ints]) -> list[int]:
    """Mask, audit and mask more until all is proved; return what cannot be protected."""
    audit = Audit(masking.sums, masking.threshold)
    left: set[int] = set()
    while True:
        masking.complementary()
        asked = masking.asked()
        asked[list(left)] = False
        audit.see(masking.hidden, asked, groups)
        # Exact ranges of many are slow, and where many are open the table hides too little.
        many = audit.unproved(asked)
        if len(many) > _MANY and masking.widen_near(many):
            continue
        narrow = audit.narrow(masking.hidden, asked)
        if not narrow:
            return sorted(left)
        if not masking.widen(narrow):
            left |= {one.variable for one in narrow}


def _groups(rows: pd.DataFrame, sums: Sums) -> list[Ints]:
    """Cut the table into parts that can be audited alone: by measure file, and populations."""
    size = len(sums.values)
    family, _ = pd.factorize(rows["parent_id"])
    by_family = np.full(size, -1)
    by_family[sums.cell.ravel()] = np.repeat(family, len(COUNTS))
    population = np.full(size, -1)
    columns = [COLUMN[name] for name in _ABOUT_POPULATION]
    population[sums.cell[:, columns].ravel()] = 0
    population[sums.cell.max() + 1 :] = 0
    return [by_family, population]
