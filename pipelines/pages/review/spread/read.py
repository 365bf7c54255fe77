"""What was measured: degrees, or minutes, their mean and spread by month, judged.

A share asks on which side of a limit a reading lies; the mean and the spread use all of it. Minutes
are skewed: their logarithms are judged, and minutes are shown. Nothing becomes points of a share.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final, TypedDict

import numpy as np
import pandas as pd

from pipelines.base.frames import checked, rows_of
from pipelines.base.store_file import open_store
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.read import MONTHS_DRAWN, ReviewData
from pipelines.pages.review.timing.read import TIMED
from pipelines.reading.measured import MINUTES, read_values
from pipelines.statistics.over_time import OverTime, over_time
from pipelines.statistics.spread import Within

FEWEST: Final = 5  # readings of a month that is charted: fewer have no spread worth the name


class SpreadMonthRow(TypedDict):
    """``Measured.months``: one row per month with enough readings, in the unit that is judged."""

    month: Annotated[pd.Timestamp, "first day"]
    readings: Annotated[int, "how many"]
    mean: Annotated[float, "of readings; of minutes, of their logarithms"]
    spread: Annotated[float, "standard deviation; of minutes, of their logarithms"]
    centre: Annotated[float | None, "middle of the means"]
    low: Annotated[float | None, "lowest mean that chance and season allow"]
    high: Annotated[float | None, "highest mean that chance and season allow"]
    alone_low: Annotated[float | None, "lowest mean that the month's readings alone allow"]
    alone_high: Annotated[float | None, "highest mean that the month's readings alone allow"]
    spread_centre: Annotated[float | None, "middle of the spreads"]
    spread_low: Annotated[float | None, "lowest spread that chance allows"]
    spread_high: Annotated[float | None, "highest spread that chance allows"]


@dataclass(frozen=True)
class Measured:
    """One measured value. ``means``: its chart; ``within``: None while no limits stand."""

    measure_id: str
    title: str
    unit: str
    months: pd.DataFrame
    means: OverTime
    within: Within | None

    @property
    def is_time(self) -> bool:
        return self.unit == MINUTES

    @property
    def is_at_rest(self) -> bool:
        """Whether neither mean nor spread has anything to say."""
        return self.means.current.empty and self.spread_outside.empty

    @property
    def spread_outside(self) -> pd.DataFrame:
        """The months whose spread lies outside its limits."""
        rows = self.months
        outside = (rows["spread"] < rows["spread_low"]) | (rows["spread"] > rows["spread_high"])
        found: pd.DataFrame = rows[outside]
        return found


@dataclass(frozen=True)
class SpreadData:
    """What the section says."""

    month: pd.Timestamp
    measured: tuple[Measured, ...]

    @property
    def first(self) -> pd.Timestamp:
        return self.month - pd.DateOffset(months=MONTHS_DRAWN - 1)


def chosen(data: ReviewData) -> list[MeasureRow]:
    """Return the measures whose state rests on a reading, and those whose minutes are drawn.

    Bands last: their reading is mostly that of another measure.
    """
    rows = data.measures.assign(is_band=data.measures["kind"] == "bands")
    rows = rows.sort_values(["is_band", "position"], kind="stable")
    has_value = rows["value_unit"].notna() & ~rows["is_silent"].astype(bool)
    return rows_of(rows[has_value | rows["measure_id"].isin(TIMED)], MeasureRow)


def measured_of(row: MeasureRow, values: pd.DataFrame, policy: pd.DataFrame) -> Measured | None:
    """Return one measured value by month, judged; None where no month has enough readings.

    ``values``: ValueRow of the measure. ``policy``: start_on and kind of its dates of policy.
    """
    rows = values[values["readings"] >= FEWEST].sort_values("month", ignore_index=True)
    if rows.empty:
        return None
    series = rows[["month"]].assign(numerator=rows["mean"], counted=rows["readings"])
    means = over_time(series, kind="minutes", direction="neither", breaks=policy)
    months = rows[["month", "readings", "mean", "spread"]].copy()
    own = means.points.set_index("start_on").reindex(months["month"]).reset_index(drop=True)
    for name, limit in (("centre", "centre"), ("low", "lower_limit"), ("high", "upper_limit")):
        months[name] = own[limit].astype(float)
    within = _within(months, own)
    spreads: tuple[np.ndarray, ...] = (np.full(len(months), np.nan),) * 3
    months[["alone_low", "alone_high"]] = np.nan
    if within is not None:
        sizes = months["readings"].to_numpy(float)
        spreads = within.sd_limits(sizes)
        alone = within.mean_limits(months["centre"].to_numpy(float), sizes)
        months["alone_low"], months["alone_high"] = alone
    for name, limits in zip(("centre", "low", "high"), spreads, strict=True):
        months[f"spread_{name}"] = limits
    unit = str(rows["value_unit"].iloc[0])
    months = checked(months.astype({"readings": "int64"}), SpreadMonthRow)
    return Measured(row["measure_id"], row["title"], unit, months, means, within)


def _within(months: pd.DataFrame, own: pd.DataFrame) -> Within | None:
    """Learn from the months that the limits of the means stand on, the latest of them."""
    is_base = own["is_baseline"].fillna(value=False).astype(bool)
    is_base &= own["phase"] == own["phase"].max()
    base = months[is_base]
    if len(base) < 2:
        return None
    numbers = (base[name].to_numpy(float) for name in ("mean", "spread", "readings"))
    return Within.of(*numbers)


def read_spread(store_path: Path | str, data: ReviewData) -> SpreadData:
    """Read and judge what was measured, up to the page's month."""
    rows = chosen(data)
    with open_store(Path(store_path)) as store:
        names = [row["measure_id"] for row in rows]
        values = read_values(store, data.unit, data.month, names)
    policy = data.changes[data.changes["kind"] == "policy"]
    found = (
        measured_of(
            row,
            values[values["measure_id"] == row["measure_id"]],
            policy.loc[policy["measure_id"] == row["measure_id"], ["start_on", "kind"]],
        )
        for row in rows
    )
    return SpreadData(data.month, _once(one for one in found if one is not None))


def _once(found: Iterable[Measured]) -> tuple[Measured, ...]:
    """Return each value once, though several measures rest on the same readings."""
    known: dict[tuple[str, int, float], Measured] = {}
    for one in found:
        total = int(one.months["readings"].sum())
        known.setdefault((one.unit, total, round(float(one.months["mean"].mean()), 4)), one)
    return tuple(known.values())
