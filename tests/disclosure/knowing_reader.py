"""An attacker who reads ``results.csv`` and ``strata.csv`` and knows what the measures mean.

Written apart from the module under test, of which it imports nothing. Its relations stand below,
read from the words of the measure files by hand, and a test holds each to the true counts. The
unknowns are five kinds of newborns of each measure, period and stratum; HiGHS (through scipy)
finds the least and the most that a masked count can be. The bounds are those of fractions, and
so no narrower than those of whole newborns: what they find is found.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import linprog
from scipy.sparse import csr_array

ALL = "all newborns"
KINDS = ["exclusion", "exception", "numerator", "not_in_numerator", "left_out"]
COUNTED = ["numerator", "not_in_numerator"]
MADE_OF = {
    "initial_population": KINDS,
    "denominator": KINDS[1:],
    "counted": COUNTED,
    **{name: [name] for name in KINDS},
}
SHOWN = ["initial_population", "exclusion", "denominator", "exception", *COUNTED]
PLACE = ["first", "last", "stratifier", "stratum"]

# A relation: a sum of (measure, count) on the left equals, or is at most, one on the right.
Side = list[tuple[str, str]]


@dataclass(frozen=True)
class Relation:
    parts: Side
    total: Side
    is_equal: bool = False


def _same(count: str, *measures: str) -> list[Relation]:
    first, *others = measures
    return [Relation([(one, count)], [(first, count)], True) for one in others]


def _bands(name: str) -> list[Relation]:
    """Three bands and their union are of the same newborns and the same readings."""
    bands = [f"{name}_{band}" for band in ("mild", "moderate", "severe")]
    union = f"{name}_any"
    whole = Relation([(one, "numerator") for one in bands], [(union, "numerator")], True)
    return [whole, *_same("denominator", union, *bands)]


_SITUATIONS = ["mother_positive", "universal", "small_negative", "unknown_2000_g_or_more"]
_SITUATIONS = [f"hepatitis_b_{one}" for one in (*_SITUATIONS, "unknown_under_2000_g")]
_BORN_HERE = ["apgar_pair", "warm_start_actions", "birth_weight_on_time", "size_triad"]
_BORN_HERE += ["two_bands", "second_temperature", "cord_clamp_deferred", "first_temperature"]

# Family -> what its words say. What no exception takes out is all counted: counted = denominator.
FAMILIES: Mapping[str, list[Relation]] = {
    "cold on arrival": [
        *_bands("arrival_cold"),
        *_same("denominator", "arrival_cold_any", "arrival_temperature"),
        Relation(
            [("arrival_temperature", "numerator"), ("arrival_cold_any", "numerator")],
            [("arrival_temperature", "counted")],
        ),
    ],
    "cold on the first day": [
        *_bands("lowest_first_day"),
        *_same("denominator", "lowest_first_day_any", "record_completeness"),
        Relation(
            [("record_completeness", "counted")], [("record_completeness", "denominator")], True
        ),
    ],
    "hepatitis B": [
        Relation(
            [(one, "initial_population") for one in _SITUATIONS],
            [("hepatitis_b_birth_dose", "initial_population")],
        ),
        *_same("initial_population", "hepatitis_b_universal", "hepatitis_b_decision"),
        Relation(
            [("hepatitis_b_universal", "numerator")], [("hepatitis_b_birth_dose", "numerator")]
        ),
        Relation([("hepatitis_b_universal", "numerator")], [("hepatitis_b_decision", "numerator")]),
    ],
    "born here": [
        *_same("denominator", *_BORN_HERE),
        *(Relation([(one, "counted")], [(one, "denominator")], True) for one in _BORN_HERE[:2]),
    ],
    "breast and feed": [
        *_same("denominator", "first_feed", "breastfed_first_hour"),
        Relation([("breastfed_first_hour", "numerator")], [("first_feed", "numerator")]),
    ],
}


def read_release(folder: Path) -> pd.DataFrame:
    """Return the shown counts of both tables, masked or not told ones missing."""
    frames = [pd.read_csv(folder / f"{name}.csv", dtype=str) for name in ("results", "strata")]
    frames[0] = frames[0].assign(stratifier=ALL, stratum=ALL)
    rows = pd.concat(frames, ignore_index=True)
    rows["first"] = rows["period_start"].str[:7]
    rows["last"] = rows["period_end"].str[:7]
    rows["is_masked"] = rows["numerator"].str.startswith("hidden", na=False)
    for name in SHOWN:
        rows[name] = pd.to_numeric(rows[name], errors="coerce")
    return rows[["measure_id", *PLACE, "is_masked", *SHOWN]]


@dataclass
class Lines:
    """Sums of unknowns that are equal to a number, or at most it."""

    entries: list[tuple[int, int, float]] = field(default_factory=list)
    right: list[float] = field(default_factory=list)

    def add(self, parts: list[int], total: list[int], right: float = 0.0) -> None:
        number = len(self.right)
        self.entries += [(number, one, 1.0) for one in parts]
        self.entries += [(number, one, -1.0) for one in total]
        self.right.append(right)

    def matrix(self, size: int) -> Any:
        row, column, value = zip(*self.entries, strict=True)
        return csr_array((value, (row, column)), shape=(len(self.right), size))


class KnowingReader:
    """Knows the release, the relations of some measures, and that no count is negative."""

    def __init__(self, shown: pd.DataFrame, relations: list[Relation]) -> None:
        named = {one for each in relations for one, _ in (*each.parts, *each.total)}
        there = set(shown["measure_id"])
        self.relations = [
            one for one in relations if {name for name, _ in (*one.parts, *one.total)} <= there
        ]
        self.shown = shown[shown["measure_id"].isin(named)].reset_index(drop=True)
        self.places = self._places(shown)
        self.measures = sorted(set(self.shown["measure_id"]))
        self.number = {place: at for at, place in enumerate(self.places)}
        self.size = len(self.measures) * len(self.places) * len(KINDS)
        self.equal, self.most = Lines(), Lines()
        self._what_is_shown()
        self._what_adds_up()
        self._what_is_meant()

    @staticmethod
    def _places(shown: pd.DataFrame) -> list[tuple[str, str, str, str]]:
        """Every period with every stratum, whether or not a measure is told there."""
        whole = shown["stratifier"] == ALL
        spans, groups = ["first", "last"], ["stratifier", "stratum"]
        tables = [shown[whole], shown[~whole]]
        every = pd.concat(
            one[spans].drop_duplicates().merge(one[groups].drop_duplicates(), how="cross")
            for one in (tables[0], tables[1], tables[1].assign(stratifier=ALL, stratum=ALL))
        ).drop_duplicates()
        return [tuple(one) for one in every[PLACE].itertuples(index=False)]

    def unknowns(self, measure: str, place: tuple[str, ...], count: str) -> list[int]:
        at = self.measures.index(measure) * len(self.places) + self.number[place]
        return [at * len(KINDS) + KINDS.index(one) for one in MADE_OF[count]]

    def _what_is_shown(self) -> None:
        for one in self.shown.itertuples(index=False):
            place = tuple(getattr(one, name) for name in PLACE)
            for count in SHOWN:
                value = getattr(one, count)
                if not np.isnan(value):
                    self.equal.add(self.unknowns(one.measure_id, place, count), [], value)

    def _what_adds_up(self) -> None:
        for total, parts in self._sums():
            for measure in self.measures:
                for kind in KINDS:
                    summed = [at for one in parts for at in self.unknowns(measure, one, kind)]
                    self.equal.add(summed, self.unknowns(measure, total, kind))

    def _sums(self) -> list[tuple[tuple[str, ...], list[tuple[str, ...]]]]:
        frame = pd.DataFrame(self.places, columns=PLACE)
        found = []
        for (first, last), some in frame.groupby(["first", "last"]):
            for stratifier, parts in some.groupby("stratifier"):
                if stratifier != ALL:
                    places = [tuple(one) for one in parts.itertuples(index=False)]
                    found.append(((first, last, ALL, ALL), places))
        for _, some in frame.groupby(["stratifier", "stratum"]):
            found += self._tilings([tuple(one) for one in some.itertuples(index=False)])
        return found

    @staticmethod
    def _tilings(places: list[tuple[str, ...]]) -> list[Any]:
        """Each period as the sum of the next shorter ones, where they fill it."""

        def months(place: tuple[str, ...]) -> int:
            ends = [pd.Period(one, "M").ordinal for one in place[:2]]
            return ends[1] - ends[0] + 1

        found = []
        for total in places:
            inside = [p for p in places if p != total and total[0] <= p[0] and p[1] <= total[1]]
            for length in sorted({months(one) for one in inside}, reverse=True):
                tiles = [one for one in inside if months(one) == length]
                if sum(months(one) for one in tiles) == months(total):
                    found.append((total, tiles))
        return found

    def _what_is_meant(self) -> None:
        for one in self.relations:
            for place in self.places:
                sides = [
                    [at for name, count in side for at in self.unknowns(name, place, count)]
                    for side in (one.parts, one.total)
                ]
                (self.equal if one.is_equal else self.most).add(*sides)

    def range_of(self, measure: str, place: tuple[str, ...], count: str) -> tuple[float, float]:
        """Return the least and the most that one count can be."""
        goal = np.zeros(self.size)
        goal[self.unknowns(measure, place, count)] = 1
        ends = []
        inside = (self.most.matrix(self.size), self.most.right) if self.most.right else (None, None)
        for sign in (1, -1):
            found = linprog(
                sign * goal,
                A_ub=inside[0],
                b_ub=inside[1],
                A_eq=self.equal.matrix(self.size),
                b_eq=self.equal.right,
                method="highs",
            )
            if found.status == 3:
                ends.append(sign * -np.inf)
                continue
            assert found.x is not None, found.message
            ends.append(float(goal @ found.x))
        return ends[0], ends[1]

    def values_of(self, measure: str, place: tuple[str, ...], count: str) -> float:
        """Return how many whole values the count can have at most."""
        low, high = self.range_of(measure, place, count)
        return np.floor(high + 1e-6) - np.ceil(low - 1e-6) + 1
