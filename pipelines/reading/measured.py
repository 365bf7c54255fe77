"""What was measured around a change: degrees, or how many minutes it took, month by month.

A mean uses every reading, where a share only asks on which side of a limit it lies: of the same
newborns it sees a smaller effect. It is never turned back into points of a share. Minutes are
skewed, so they are read as logarithms and told as a ratio.
"""

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Final

import duckdb
import numpy as np
import pandas as pd

from pipelines.definitions.parameters import column_words
from pipelines.reading.frames import ValueRow
from pipelines.reading.queries import query
from pipelines.statistics import effects, interrupted
from pipelines.statistics.effects import Effect, Span
from pipelines.statistics.interrupted import Fit, NotFittedError, Priors, Split, Values

FEWEST: Final = 2  # readings of a month that a spread takes
MINUTES: Final = "min"  # as value_unit: the mean is of logarithms of minutes


@dataclass(frozen=True)
class ValueStudy:
    """A measured value around a change, among those who have one. ``unit``: its symbol.

    ``months``: month, place, mean, spread and readings (as ValueRow) of each month with a reading.
    """

    name: str
    unit: str
    before: float
    after: float
    effect: Effect | None
    fit: Fit | None
    months: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False, compare=False)

    @property
    def is_time(self) -> bool:
        return self.unit == MINUTES

    @property
    def span(self) -> Span | None:
        """The effect: in the unit of the value; of minutes, a ratio (1: no effect)."""
        if self.effect is None:
            return None
        points = self.effect.points
        if not self.is_time:
            return points
        return Span(*(float(np.exp(end)) for end in (points.guess, points.lower, points.upper)))

    @property
    def is_clear(self) -> bool:
        return self.effect is not None and self.effect.points.leaves_out_zero


def value_study(
    rows: pd.DataFrame | None, phased: pd.DataFrame, split: Split, priors: Priors
) -> ValueStudy | None:
    """Analyse a value in the months of a study; None where too few have one.

    ``rows``: ValueRow of one measure. ``phased``: PhaseMonthRow of its months.
    """
    if rows is None or rows.empty:
        return None
    months = phased[["month", "place"]].merge(rows, on="month").sort_values("place")
    months = months[months["readings"] >= FEWEST]
    values = Values(
        months["place"].to_numpy("int64"),
        months["mean"].to_numpy(float),
        months["spread"].to_numpy(float),
        months["readings"].to_numpy(float),
    )
    sides = [values.where(one(values.month)) for one in (split.is_before, split.is_after)]
    if any(one.total.sum() < interrupted.FEWEST_EVENTS for one in sides):
        return None
    unit = str(rows["value_unit"].iloc[0])
    before, after = (float(np.average(one.mean, weights=one.total)) for one in sides)
    if unit == MINUTES:
        before, after = float(np.exp(before)), float(np.exp(after))
    name = str(rows["name"].iloc[0])
    try:
        fit = interrupted.fit_values(values, split, priors)
    except NotFittedError:
        return ValueStudy(name, unit, before, after, None, None, months)
    return ValueStudy(name, unit, before, after, effects.effect(fit), fit, months)


def read_values(
    store: duckdb.DuckDBPyConnection,
    unit: str,
    month: pd.Timestamp,
    measures: Collection[str],
    columns: Collection[str] = (),
) -> pd.DataFrame:
    """Return ValueRow of measures and of columns of newborns, up to a month."""
    asked = {"unit": unit, "month": month.date()}
    found = query(store, "reading/values", ValueRow, measures=list(measures), **asked)
    if not columns:
        return found
    wide = query(store, "reading/newborn_values", ValueRow, columns=list(columns), **asked)
    words = [column_words(str(name)) for name in wide["measure_id"]]
    wide = wide.assign(name=[one for one, _ in words], value_unit=[two for _, two in words])
    return pd.concat([each for each in (found, wide) if len(each)] or [found], ignore_index=True)
