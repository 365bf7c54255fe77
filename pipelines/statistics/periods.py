"""What one point of a chart is made of: a month, a quarter, a block of births, or a gap.

Every function returns one row a point, in order: ``start_on`` (first day; NaT for births
without months), ``numerator``, ``n`` (the denominator, or the births in the gap with its
event), ``rate`` (what is charted), ``total`` (what adds up over points) and ``size`` (what
limits depend on).
"""

from typing import Final

import numpy as np
import pandas as pd

from pipelines.statistics.phases import POINTS_AT_LEAST
from pipelines.statistics.rare import gaps_between, to_nelson

MONTH: Final = "month"
QUARTER: Final = "quarter"
BLOCK: Final = "block"
GAP: Final = "gap"

# Below ten births in a usual month a single birth moves the share by more than ten points.
MONTHLY_AT_LEAST: Final = 10
BLOCK_OF: Final = 10
# Without months there is no usual month: about two dozen blocks, of a round size, so that
# the blocks stay the same while births are added.
BLOCK_SIZES: Final = (10, 20, 50, 100, 200, 500)
BLOCKS_WANTED: Final = 24

COLUMNS: Final = ("start_on", "numerator", "n", "rate", "total", "size")


def usual_size(series: pd.DataFrame) -> float:
    """Return the median denominator of the first twelve months that have one; 0 without any.

    The first twelve only, so that the kind of chart is settled with its limits.
    """
    counted = series["counted"]
    known = counted[counted > 0].head(POINTS_AT_LEAST)
    return float(known.median()) if len(known) else 0.0


def usual_events(series: pd.DataFrame, is_met: bool) -> float:
    """Return the mean number of newborns met (or not met) in the first twelve months."""
    known = series[series["counted"] > 0].head(POINTS_AT_LEAST)
    events = known["numerator"] if is_met else known["counted"] - known["numerator"]
    return float(events.mean()) if len(known) else 0.0


def _shares(start_on: pd.Series, numerator: pd.Series, n: pd.Series) -> pd.DataFrame:
    """Add rate, total and size to start_on, numerator and n."""
    met, counted = numerator.to_numpy(float), n.to_numpy(float)
    columns = (start_on.array, met, counted, met / counted, met, counted)
    return pd.DataFrame(dict(zip(COLUMNS, columns, strict=True)))


def by_month(series: pd.DataFrame) -> pd.DataFrame:
    """One point a month that has a denominator."""
    known = series[series["counted"] > 0]
    return _shares(known["month"], known["numerator"], known["counted"])


def _cut(months: pd.Series, breaks: pd.DataFrame) -> pd.Series:
    """Number the stretches between breaks, so that no point lies on both sides of one."""
    starts = breaks["start_on"].dt.to_period("M").dt.to_timestamp().sort_values().unique()
    return pd.Series(np.searchsorted(starts, months, side="right"), index=months.index)


def by_quarter(series: pd.DataFrame, breaks: pd.DataFrame) -> pd.DataFrame:
    """One point a calendar quarter; a quarter with a break in it gives two points."""
    known = series[series["counted"] > 0]
    keys = [_cut(known["month"], breaks), known["month"].dt.to_period("Q")]
    grouped = known.groupby(keys).agg(
        start_on=("month", "min"), numerator=("numerator", "sum"), n=("counted", "sum")
    )
    return _shares(grouped["start_on"], grouped["numerator"], grouped["n"])


def block_size(births: int) -> int:
    """Return the largest round size of block that leaves about two dozen of them."""
    fitting = [size for size in BLOCK_SIZES if size * BLOCKS_WANTED <= births]
    return fitting[-1] if fitting else BLOCK_SIZES[0]


def by_block(births: pd.DataFrame, block_of: int, breaks: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """One point for every ``block_of`` consecutive births; returns the births left over too.

    ``births``: one row a birth that counts, in order of birth: month, is_met. No block lies on
    both sides of a break: what is left before one joins the block before. At the end the births
    of a block that is not yet full wait.
    """
    has_months = births["month"].notna().all()
    stretch = _cut(births["month"], breaks) if has_months else pd.Series(0, index=births.index)
    place = births.groupby(stretch).cumcount()
    births_there = stretch.map(stretch.value_counts())
    block = np.minimum(place // block_of, (births_there // block_of - 1).clip(lower=0))
    is_last = stretch == stretch.max()
    waits = is_last & (place // block_of >= births_there // block_of)
    kept = births[~waits]
    grouped = kept.groupby([stretch[~waits], block[~waits]]).agg(
        start_on=("month", "first"), numerator=("is_met", "sum"), n=("is_met", "size")
    )
    points = _shares(grouped["start_on"], grouped["numerator"], grouped["n"])
    return points, int(waits.sum())


def by_gap(births: pd.DataFrame, is_met: bool) -> tuple[pd.DataFrame, int]:
    """One point for each event but the first: the births since the event before.

    The event is a newborn met (``is_met``) or not met. Dated at the birth that closes the gap.
    Returns the births since the last event too.
    """
    is_event = births["is_met"].astype(bool).to_numpy() == is_met
    gaps, closes, since = gaps_between(is_event)
    between = gaps.astype(float)
    points = pd.DataFrame({"start_on": births["month"].to_numpy()[closes], "numerator": 1.0})
    points = points.assign(n=between + 1, rate=between, total=between, size=1.0)
    return points[list(COLUMNS)], since


def by_days(births: pd.DataFrame, is_met: bool) -> pd.DataFrame:
    """One point for each event but the first: days since the event before; needs ``born_on``."""
    events = births[births["is_met"].astype(bool) == is_met]
    born_on = pd.to_datetime(events["born_on"])
    days = born_on.diff().dt.days.iloc[1:].to_numpy(float)
    points = pd.DataFrame({"start_on": born_on.iloc[1:].to_numpy(), "numerator": 1.0, "n": days})
    points = points.assign(rate=days, total=to_nelson(days), size=1.0)
    return points[list(COLUMNS)]


def by_value(series: pd.DataFrame) -> pd.DataFrame:
    """One point a month of measured values, such as a median: numerator is the value."""
    known = series[series["numerator"].notna() & (series["counted"] > 0)]
    points = known.rename(columns={"month": "start_on", "counted": "n"}).reset_index(drop=True)
    value = points["numerator"].astype(float)
    return points.assign(numerator=value, rate=value, total=value, size=1.0)[list(COLUMNS)]


def by_count(series: pd.DataFrame) -> pd.DataFrame:
    """One point a month of plain counts; a month without a count is left out."""
    known = series[series["numerator"].notna() & ~(series["counted"] == 0)]
    points = known.rename(columns={"month": "start_on"}).reset_index(drop=True)
    count = points["numerator"].astype(float)
    return points.assign(numerator=count, n=1.0, rate=count, total=count, size=1.0)[list(COLUMNS)]
