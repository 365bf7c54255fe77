"""An attacker of its own: what whole counts of each state fit every number that was published.

Written apart from the module under test: the unknowns are the eight states of each measure,
month and stratum, every published number is a sum of them, and HiGHS (through scipy's milp)
finds the least and the most that a masked count can be.
"""

from collections.abc import Iterator

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, vstack

from tests.disclosure.tables import ALL, PARTS

COUNTS = ["initial_population", "exclusion", "denominator", "exception", "numerator"]
COUNTS += ["not_in_numerator", "late", "not_done", "not_met", "not_documented", "unusable"]
MADE_OF = {
    "initial_population": PARTS,
    "denominator": [name for name in PARTS if name != "exclusion"],
    "not_in_numerator": ["late", "not_done", "not_met", "not_documented", "unusable"],
}


class Attacker:
    """Knows the published table, that counts are whole and not negative, and how they add up."""

    def __init__(self, rows: pd.DataFrame, base: pd.DataFrame, hidden: np.ndarray) -> None:
        self.rows, self.hidden = rows.reset_index(drop=True), hidden
        self.base = base.reset_index(drop=True)
        self.size = len(base) * len(PARTS)
        shown = [place for place in self._cells() if not hidden[place]]
        matrix = vstack([self.parts(*place) for place in shown])
        values = np.array([self.rows.at[row, COUNTS[column]] for row, column in shown])
        self.fit = [LinearConstraint(matrix, values, values), *self._same_newborns()]
        self.room = Bounds(0, max(4 * int(self.rows["initial_population"].max()), 400))

    def _cells(self) -> Iterator[tuple[int, int]]:
        return ((row, column) for row in self.rows.index for column in range(len(COUNTS)))

    def parts(self, row: int, column: int) -> csr_array:
        """Return one published count as a sum of states of months and strata."""
        one, name = self.rows.loc[row], COUNTS[column]
        inside = (self.base["measure_id"] == one["measure_id"]) & self.base["first_month"].between(
            one["first_month"], one["last_month"]
        )
        if one["stratifier"] != ALL:
            inside &= self.base["stratum"] == one["stratum"]
        names = list(MADE_OF.get(name, [name]))
        if name == "not_in_numerator" and one["missing_left_out"]:
            names = ["late", "not_done", "not_met"]
        line = np.zeros((len(self.base), len(PARTS)))
        line[np.ix_(np.flatnonzero(inside), [PARTS.index(each) for each in names])] = 1
        return csr_array(line.reshape(1, -1))

    def _same_newborns(self) -> list[LinearConstraint]:
        """Measures of one population: the same newborns in each month and stratum."""
        place = self.base.groupby(["first_month", "stratum"]).ngroup().to_numpy()
        measures = self.base["measure_id"].unique()
        lines = []
        for other in measures[1:]:
            for number in range(place.max() + 1):
                line = np.zeros((len(self.base), len(PARTS)))
                line[(place == number) & (self.base["measure_id"] == measures[0])] = 1
                line[(place == number) & (self.base["measure_id"] == other)] = -1
                lines.append(csr_array(line.reshape(1, -1)))
        return [LinearConstraint(vstack(lines), 0, 0)] if lines else []

    def small(self, threshold: int) -> list[tuple[int, int]]:
        """Return the masked counts that must not be found: those of 1 to threshold - 1."""
        return [
            (row, column)
            for row, column in self._cells()
            if self.hidden[row, column] and 1 <= self.rows.at[row, COUNTS[column]] < threshold
        ]

    def range_of(self, row: int, column: int) -> tuple[int, int]:
        """Return the least and the most that one count can be."""
        goal = self.parts(row, column).toarray().ravel()
        ends = []
        for sign in (1, -1):
            found = milp(
                sign * goal,
                constraints=self.fit,
                bounds=self.room,
                integrality=np.ones(self.size),
            )
            assert found.x is not None, found.message
            ends.append(round(float(goal @ found.x)))
        return ends[0], ends[1]
