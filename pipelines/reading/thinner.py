"""Measures that look better while less is written down: is it the care, or the charting?

Where what is not documented is left out of the rate, poor results that nobody wrote down make it
better. So the months in which a measure is better are laid beside those it is better than, on
which its limits stand: is more not documented, or unusable, than then?
"""

from collections.abc import Mapping
from typing import Annotated, Final, TypedDict

import numpy as np
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.read_measures import UNKNOWN_LEFT_OUT
from pipelines.reading.signals import MovedRow
from pipelines.reading.small_numbers import CHANGE_LEVEL
from pipelines.statistics.intervals import difference
from pipelines.statistics.over_time import BETTER, OverTime


class ThinnerRow(TypedDict):
    """What a better measure's documentation does; missing where it did not get thinner."""

    unknown_before: Annotated[float | None, "share not documented or unusable in the baseline"]
    unknown_since: Annotated[float | None, "the same over the months that are better"]
    thinner_from: Annotated[pd.Timestamp | None, "the first of those months"]
    rate_if_poor: Annotated[float | None, "their rate, had what is more been the poor ones"]


class _Told(MovedRow):
    """What is asked of a measure that moved."""

    missing: str
    direction: str


_NOT_THINNER: Final = ThinnerRow(
    unknown_before=None, unknown_since=None, thinner_from=None, rate_if_poor=None
)


def thinner(
    series: pd.DataFrame, over_time: Mapping[str, OverTime], moved: pd.DataFrame
) -> pd.DataFrame:
    """Return one row per measure of ``moved``: measure_id and what ``ThinnerRow`` declares.

    ``series``: one row per measure and month, the whole history (measure_id, month and counts).
    ``moved``: columns of ``MovedRow``, with ``missing`` and ``direction`` of the measure. A single
    comparison of two spans of months, at ``CHANGE_LEVEL`` (Newcombe 1998, as elsewhere).
    """
    by_measure = dict(list(series.groupby("measure_id")))
    names = [*ThinnerRow.__annotations__]
    found = []
    for row in rows_of(moved, _Told):
        over = over_time.get(row["measure_id"])
        told = _NOT_THINNER
        if over is not None and row["change"] == BETTER and row["missing"] == UNKNOWN_LEFT_OUT:
            told = _of(row, over, by_measure[row["measure_id"]])
        found.append({"measure_id": row["measure_id"], **told})
    types = {name: "datetime64[ns]" if name == "thinner_from" else "float64" for name in names}
    return pd.DataFrame(found, columns=["measure_id", *names]).astype(types)


def _of(row: _Told, over: OverTime, months: pd.DataFrame) -> ThinnerRow:
    """Lay the months that are better, from the oldest signal on, beside their baseline's."""
    since = over.current.loc[over.current["sense"] == BETTER, "first_on"].min()
    if pd.isna(since) or over.phases.empty:
        return _NOT_THINNER
    own = over.phases[over.phases["start_on"] <= since].tail(1)
    if own.empty or own["baseline_last_on"].isna().any():
        return _NOT_THINNER
    last = own["baseline_last_on"].iloc[0]
    before = months[months["month"].between(own["baseline_first_on"].iloc[0], last)]
    now = months[(months["month"] >= since) & (months["month"] > last)]
    return _compared(str(row["direction"]), _sums(before), _sums(now), since)


def _sums(months: pd.DataFrame) -> pd.Series:
    names = ["not_documented", "unusable", "denominator", "numerator", "counted"]
    sums = months[names].sum().astype(float)
    return pd.concat([sums, pd.Series({"unknown": sums["not_documented"] + sums["unusable"]})])


def _compared(direction: str, before: pd.Series, now: pd.Series, since: pd.Timestamp) -> ThinnerRow:
    if not (before["denominator"] and now["denominator"]):
        return _NOT_THINNER
    pairs = [(np.array([one["unknown"]]), np.array([one["denominator"]])) for one in (now, before)]
    lower, _ = difference(pairs[0], pairs[1], 1 - CHANGE_LEVEL)
    if not lower[0] > 0:
        return _NOT_THINNER
    share = float(before["unknown"] / before["denominator"])
    more = now["unknown"] - share * now["denominator"]
    poor = now["numerator"] + (more if direction == "lower" else 0.0)
    return ThinnerRow(
        unknown_before=share,
        unknown_since=float(now["unknown"] / now["denominator"]),
        thinner_from=since,
        rate_if_poor=float(poor / (now["counted"] + more)),
    )
