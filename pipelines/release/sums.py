"""Every sum that holds between published counts: what a reader could subtract.

Frame in, arrays out; no SQL, no files. The rows of the frame are counts of one measure, period
and stratum. The relations are exact, so that masking (``disclosure``) and its audit
(``interval_audit``) can be held to all that a reader can work out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import sparse
from scipy.sparse import csgraph

from pipelines.definitions.read_measures import ITEM_KINDS
from pipelines.definitions.states import COUNTS, MISSED
from pipelines.definitions.strata import ALL_NEWBORNS as ALL

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

COLUMN: Final = {name: place for place, name in enumerate(COUNTS)}
DETAIL: Final = MISSED
RATE: Final = ("numerator", "not_in_numerator")
POPULATION: Final = ("initial_population", "exclusion", "denominator", "exception")
# What a row tells, by its level: the rate's counts, then the population's, then the detail.
LEVELS: Final = (RATE, POPULATION, DETAIL)
LEVEL_OF: Final = {name: level for level, names in enumerate(LEVELS) for name in names}
NEWBORNS: Final = "newborns"  # rows of this id hold only the newborns that all measures share
_MOST_BANDS: Final = 7  # beyond this, testing every subset of bands costs more than it finds


@dataclass(frozen=True)
class Sums:
    """``matrix @ values == 0``, one row per sum: -1 for the total, 1 for each part.

    values: the true count of each variable. cell: the variable of each count of the frame,
    shape (rows, counts); counts that are the same by definition share one variable. Variables
    beyond those of the frame are remainders: what is left of a total after its parts.
    """

    values: Ints
    cell: Ints
    matrix: Any  # scipy.sparse.csr_array of int64


@dataclass
class _Collected:
    """Sums gathered as long arrays: number of the sum, cell; totals by number of the sum."""

    totals: list[Ints] = field(default_factory=list)
    numbers: list[Ints] = field(default_factory=list)
    parts: list[Ints] = field(default_factory=list)
    count: int = 0

    def add(self, totals: Ints, numbers: Ints, parts: Ints) -> None:
        """``numbers`` says, from 0, to which of ``totals`` each of ``parts`` belongs."""
        self.totals.append(totals)
        self.numbers.append(numbers + self.count)
        self.parts.append(parts)
        self.count += len(totals)

    def add_rows(self, totals: Ints, numbers: Ints, parts: Ints, columns: Sequence[str]) -> None:
        """The same between rows, once for every column."""
        for name in columns:
            place, width = COLUMN[name], len(COUNTS)
            self.add(totals * width + place, numbers, parts * width + place)


def find_sums(rows: pd.DataFrame, nested: Mapping[str, Sequence[str]] | None = None) -> Sums:
    """Return every sum between the counts of ``rows``.

    rows: one unit; measure_id, parent_id, kind, missing_left_out, period_kind, first_month and
    last_month (whole numbers that follow each other), stratifier, stratum, the counts, and
    level (0, 1 or 2: how many of LEVELS the row tells).
    nested: total measure to the measures whose numerators it adds up, beyond the bands of one
    file. Raises ValueError where parts exceed their total.
    """
    rows = rows.reset_index(drop=True)
    found = _Collected()
    _within_rows(rows, found)
    _strata(rows, found)
    _periods(rows, found)
    _populations(rows, found)
    _bands(rows, found)
    for total, parts in (nested or {}).items():
        _numerators(rows, found, total, parts)
    return _assemble(rows[list(COUNTS)].to_numpy(np.int64), found)


def _within_rows(rows: pd.DataFrame, found: _Collected) -> None:
    every = rows.index[rows["measure_id"] != NEWBORNS].to_numpy(np.int64)
    is_left_out = rows.loc[every, "missing_left_out"].to_numpy(bool)
    level = rows.loc[every, "level"].to_numpy(np.int64)
    known, unknown = DETAIL[:3], DETAIL[3:]
    rate = ("exception", *RATE)
    for some, total, parts in (
        (every[level >= 1], "initial_population", ("denominator", "exclusion")),
        # Without detail the unknown of a measure that leaves them out are the remainder.
        (every[(level == 1) | (~is_left_out & (level == 2))], "denominator", rate),
        (every[is_left_out & (level == 2)], "denominator", (*rate, *unknown)),
        (every[~is_left_out & (level == 2)], "not_in_numerator", DETAIL),
        (every[is_left_out & (level == 2)], "not_in_numerator", known),
    ):
        numbers = np.repeat(np.arange(len(some)), len(parts))
        places = np.tile([COLUMN[name] for name in parts], len(some))
        width = len(COUNTS)
        found.add(some * width + COLUMN[total], numbers, some[numbers] * width + places)


def _paired(totals: pd.DataFrame, parts: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    """Pair the rows of totals with those of parts; ``row`` and ``row_part`` are their places."""
    left = totals.assign(row=totals.index)
    right = parts.assign(row=parts.index)
    return left.merge(right, on=keys, suffixes=("", "_part"))


def _add_pairs(found: _Collected, pairs: pd.DataFrame, columns: Sequence[str]) -> None:
    if len(pairs):
        totals, numbers = np.unique(pairs["row"].to_numpy(np.int64), return_inverse=True)
        found.add_rows(totals, numbers, pairs["row_part"].to_numpy(np.int64), columns)


def _add_all(found: _Collected, pairs: pd.DataFrame) -> None:
    """Add the sums of every column that all rows of a sum tell."""
    lowest = pairs[["level", "level_part"]].min(axis=1).groupby(pairs["row"]).transform("min")
    for level, names in enumerate(LEVELS):
        _add_pairs(found, pairs[lowest >= level], names)


def _strata(rows: pd.DataFrame, found: _Collected) -> None:
    """The strata of one stratifier sum to all newborns."""
    keys = ["measure_id", "first_month", "last_month", "period_kind"]
    is_whole = rows["stratifier"] == ALL
    whole = rows.loc[is_whole, [*keys, "level"]]
    names = [*keys, "level", "stratifier"]
    for _, parts in rows.loc[~is_whole, names].groupby("stratifier"):
        _add_all(found, _paired(whole, parts, keys))


def _periods(rows: pd.DataFrame, found: _Collected) -> None:
    """A period is the sum of the shorter periods that tile it; equal periods are equal."""
    keys = ["measure_id", "stratifier", "stratum"]
    names = [*keys, "period_kind", "first_month", "last_month", "level"]
    frame = rows[names].copy()
    frame["months"] = frame["last_month"] - frame["first_month"] + 1
    spans = [*keys, "first_month", "last_month"]
    times = frame.groupby(spans).cumcount()
    first = frame[times == 0]
    # One by one: in a unit's first month that month, its quarter and all are three of one span.
    for again in range(1, times.max() + 1 if len(times) else 0):
        _add_all(found, _paired(first, frame[times == again], spans))
    for kind, tiles in first.groupby("period_kind"):
        if _overlap(tiles, keys):
            continue
        pairs = _paired(first[first["period_kind"] != kind], tiles, keys)
        is_inside = (pairs["first_month"] <= pairs["first_month_part"]) & (
            pairs["last_month_part"] <= pairs["last_month"]
        )
        pairs = pairs[is_inside & (pairs["months_part"] < pairs["months"])]
        covered = pairs.groupby("row")["months_part"].transform("sum")
        _add_all(found, pairs[covered == pairs["months"]])


def _overlap(tiles: pd.DataFrame, keys: list[str]) -> bool:
    ordered = tiles.sort_values([*keys, "first_month"])
    before = ordered.groupby(keys)["last_month"].shift()
    return bool((ordered["first_month"] <= before).any())


def _populations(rows: pd.DataFrame, found: _Collected) -> None:
    """All newborns of a period are those of a measure's population and those outside it."""
    keys = ["first_month", "last_month", "stratifier", "stratum"]
    is_base = rows["measure_id"] == NEWBORNS
    is_one_each = ~is_base & ~rows["kind"].isin(ITEM_KINDS) & (rows["level"] >= 1)
    base = rows.loc[is_base, keys].drop_duplicates()
    for _, parts in rows.loc[is_one_each, [*keys, "measure_id"]].groupby("measure_id"):
        pairs = _paired(base, parts.drop_duplicates(keys), keys)
        counts = rows["initial_population"].to_numpy()
        # A population that is somewhere wider is no part of it.
        if (counts[pairs["row"]] >= counts[pairs["row_part"]]).all():
            _add_pairs(found, pairs, ["initial_population"])


def _bands(rows: pd.DataFrame, found: _Collected) -> None:
    """Bands of one file share their population, and some are the sum of others.

    Which are is read from the counts: a sum that holds in every row is one a reader can find.
    """
    for _, family in rows[rows["measure_id"] != NEWBORNS].groupby("parent_id"):
        told = family[family["level"] >= 1]
        ids = list(dict.fromkeys(family["measure_id"]))
        for other in ids[1:]:
            for name in (*POPULATION, "not_documented", "unusable"):
                some = told[told["level"] >= LEVEL_OF[name]]
                if _holds(some, ids[0], [other], name):
                    _add_pairs(found, _between(some, ids[0], [other]), [name])
        for total in ids if 2 < len(ids) <= _MOST_BANDS else ():
            for parts in _added_up(family, total, [one for one in ids if one != total]):
                _add_pairs(found, _between(family, total, parts), ["numerator"])


def _added_up(rows: pd.DataFrame, total: str, others: Sequence[str]) -> list[tuple[str, ...]]:
    """Return the sets of bands that add up to one, without those inside a larger one.

    A larger one that still holds has bands of zeros; that they are zero a reader cannot know.
    """
    found: list[tuple[str, ...]] = []
    for size in range(len(others), 1, -1):
        for parts in combinations(others, size):
            is_inside = any(set(parts) < set(larger) for larger in found)
            if not is_inside and _holds(rows, total, parts, "numerator"):
                found.append(parts)
    return found


def _numerators(rows: pd.DataFrame, found: _Collected, total: str, parts: Sequence[str]) -> None:
    _add_pairs(found, _between(rows, total, parts), ["numerator"])


_SAME_ROW: Final = ["period_kind", "first_month", "last_month", "stratifier", "stratum"]


def _between(rows: pd.DataFrame, total: str, parts: Sequence[str]) -> pd.DataFrame:
    some = rows[rows["measure_id"].isin(parts)]
    return _paired(rows[rows["measure_id"] == total], some, _SAME_ROW)


def _holds(rows: pd.DataFrame, total: str, parts: Sequence[str], name: str) -> bool:
    pairs = _between(rows, total, parts)
    if not len(pairs):
        return False
    summed = pairs.groupby("row")[f"{name}_part"].sum()
    return bool((summed == rows.loc[summed.index, name]).all())


def _assemble(counts: Ints, found: _Collected) -> Sums:
    totals, numbers = np.concatenate(found.totals), np.concatenate(found.numbers)
    parts = np.concatenate(found.parts)
    values = counts.ravel()
    summed = np.bincount(numbers, weights=values[parts], minlength=found.count)
    rest = values[totals] - summed.astype(np.int64)
    if (rest < 0).any():
        worst = int(np.flatnonzero(rest < 0)[0])
        row, column = divmod(int(totals[worst]), len(COUNTS))
        raise ValueError(f"row {row}, {COUNTS[column]}: the parts are more than their total")
    has_rest = np.flatnonzero(rest)
    extra = len(values) + np.arange(len(has_rest))
    values = np.concatenate([values, rest[has_rest]])
    rows_at = np.concatenate([np.arange(found.count), numbers, has_rest])
    columns_at = np.concatenate([totals, parts, extra])
    signs = np.ones(len(rows_at), np.int64)
    signs[: found.count] = -1
    shape = (found.count, len(values))
    matrix = sparse.csr_array((signs, (rows_at, columns_at)), shape=shape)
    return _merge_equal(values, counts.shape, matrix)


def _merge_equal(values: Ints, shape: tuple[int, ...], matrix: Any) -> Sums:
    """Give counts that are equal by definition (a total with one part) one variable."""
    is_pair = np.diff(matrix.indptr) == 2
    pairs = matrix[is_pair].indices.reshape(-1, 2)
    size = len(values)
    graph = sparse.coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(size, size))
    _, variable = csgraph.connected_components(graph, directed=False)
    _, first = np.unique(variable, return_index=True)
    fold = sparse.csr_array((np.ones(size, np.int64), (np.arange(size), variable)))
    folded = sparse.csr_array(matrix[~is_pair] @ fold)
    folded.eliminate_zeros()
    # A sum found twice, or one that says nothing, is left out: rows with equal whole marks.
    marks = folded @ np.random.default_rng(0).integers(1 << 52, size=folded.shape[1])
    _, kept = np.unique(marks, return_index=True)
    folded = folded[np.sort(kept)]
    folded = folded[np.diff(folded.indptr) > 0]
    cell = variable[: shape[0] * shape[1]].reshape(shape)
    return Sums(values[first], cell.astype(np.int64), folded)
