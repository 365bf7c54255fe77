"""The monthly review of one unit: the frames its page is made of.

Reads a built store read-only; each query is one file of a room's ``sql``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import duckdb
import pandas as pd

from pipelines.base.errors import StoreError
from pipelines.base.frames import checked, columns_of
from pipelines.base.store_file import open_store
from pipelines.definitions.read_measures import GROUPS
from pipelines.definitions.strata import BIRTH
from pipelines.pages.review.frames import (
    BirthRow,
    BornRow,
    ChangeRow,
    FlagRuleRow,
    GroupRow,
    LeftToUnitRow,
    MeasureRow,
    ReasonRow,
    RecordFlagRow,
    RecordMeasureRow,
    RestatedRow,
    UnjudgedRow,
    WorklistReadRow,
    WorklistRejectedRow,
    WorklistSettingRow,
)
from pipelines.reading import signals, standing
from pipelines.reading.frames import BuildRow, InfoRow, LoadRow, MonthRow, RejectedRow, SeriesRow
from pipelines.reading.months import last_full_month, parse_month
from pipelines.reading.queries import query, unit_title
from pipelines.statistics.charting import needs_births
from pipelines.statistics.over_time import OverTime

# Limits stand on the first months there are; a chart shows the latest of them.
MONTHS_DRAWN = 36
NO_BIRTHS = pd.DataFrame(columns=list(columns_of(BirthRow)))
# Query -> its declaration.
_FRAMES: Mapping[str, type[Mapping[str, object]]] = {
    "reading/series": SeriesRow,
    "pages/review/changes": ChangeRow,
    "pages/review/record_measures": RecordMeasureRow,
    "pages/review/reasons": ReasonRow,
    "pages/review/left_to_unit": LeftToUnitRow,
    "pages/review/record_flags": RecordFlagRow,
    "pages/review/flag_rules": FlagRuleRow,
    "reading/rejected": RejectedRow,
    "pages/review/unjudged": UnjudgedRow,
    "pages/review/restated": RestatedRow,
    "pages/review/born": BornRow,
    "pages/review/worklist_setting": WorklistSettingRow,
    "pages/review/worklist_read": WorklistReadRow,
    "pages/review/worklist_rejected": WorklistRejectedRow,
}


@dataclass(frozen=True)
class ReviewData:
    """Everything one page says, as frames; ``frames.py`` declares the columns of each."""

    unit: str
    title: str
    month: pd.Timestamp
    births: int
    newborns: int
    measures: pd.DataFrame  # MeasureRow: one row per measure, its month, how it stands
    series: pd.DataFrame  # one row per measure and month, of the months that are drawn
    over_time: Mapping[str, OverTime]  # measure_id -> its whole history, judged
    groups: pd.DataFrame  # one row per measure, group of newborns and whole quarter
    changes: pd.DataFrame  # one row per change or policy date and measure
    record_measures: pd.DataFrame  # one row per newborn and measure worth reading
    reasons: pd.DataFrame  # one row per measure, state and reason of what was not met
    left_to_unit: pd.DataFrame  # one row per measure whose misses list no record
    record_flags: pd.DataFrame  # one row per flagged value of the month's newborns
    flag_rules: pd.DataFrame  # one row per rule and column
    loads: pd.DataFrame  # one row per export file
    rejected: pd.DataFrame  # one row per export file and reason
    unjudged: pd.DataFrame  # one row per check that could not be judged
    restated: pd.DataFrame  # one row per number of a month shown otherwise before, and build
    born: pd.DataFrame  # one row per newborn of the month, in order of birth
    worklist_setting: pd.DataFrame  # one row: what the unit's file says of the worklist
    worklist_read: pd.DataFrame  # one row per worklist that came back, and outcome
    worklist_rejected: pd.DataFrame  # one row per line of one that was not read
    build: Mapping[str, str]


def _choose_month(months: pd.DataFrame, month: str | None, loads: pd.DataFrame) -> pd.Timestamp:
    if months.empty:
        raise StoreError("the store holds no newborn of this unit with a month of birth.")
    if month is None:
        return last_full_month(months, loads["loaded_at"].max() if len(loads) else None)
    wanted = pd.Timestamp(parse_month(month))
    first, last = months["month"].min(), months["month"].max()
    if not first <= wanted <= last:
        raise StoreError(
            f"month '{month}': the store holds births from {first:%Y-%m} to {last:%Y-%m}."
        )
    return wanted


def _measures(
    info: pd.DataFrame,
    series: pd.DataFrame,
    over_time: Mapping[str, OverTime],
    month: pd.Timestamp,
) -> pd.DataFrame:
    """Join what a measure is with its month and how it stands, in reading order."""
    now = series[series["month"] == month].drop(columns="month")
    told = signals.moved(over_time)
    rows = info.merge(now, on="measure_id", how="left").merge(told, on="measure_id", how="left")
    rows = standing.stand(rows)
    order = {name: place for place, name in enumerate(GROUPS)}
    rows["group_place"] = rows["group_name"].map(order).fillna(len(GROUPS))
    rows["gap"] = (rows["rate"] - rows["target"]).abs().fillna(-1)
    keys = ["group_place", "rank", "gap", "position"]
    rows = rows.sort_values(keys, ascending=[True, True, False, True], ignore_index=True)
    return checked(rows, MeasureRow)


def _few(series: pd.DataFrame, info: pd.DataFrame) -> list[str]:
    """Return the measures whose chart gains from one row per birth."""
    kinds = dict(zip(info["measure_id"], info["kind"], strict=True))
    return [
        str(name)
        for name, rows in series.groupby("measure_id")
        if needs_births(rows, str(kinds[name]))
    ]


def _place(
    store: duckdb.DuckDBPyConnection, unit: str, month: str | None
) -> tuple[str, pd.DataFrame, pd.DataFrame, pd.Timestamp]:
    """Return the unit's title, its months, its export files and the month that is reviewed."""
    title = unit_title(store, unit)
    months = query(store, "reading/months", MonthRow, unit=unit)
    loads = query(store, "reading/loads", LoadRow, unit=unit)
    return title, months, loads, _choose_month(months, month, loads)


def read_review(store_path: Path, unit: str, month: str | None = None) -> ReviewData:
    """Read the review of one unit and month ('2026-04'; None: the last full month).

    Raises StoreError naming the unit or month that is not there, and what is.
    """
    with open_store(Path(store_path)) as store:
        title, months, loads, chosen = _place(store, unit, month)
        values = {"unit": unit, "month": chosen.date()}
        frames = {
            name.rpartition("/")[2]: query(store, name, row, **values)
            for name, row in _FRAMES.items()
        }
        info = query(store, "reading/measures", InfoRow, unit=unit)
        build = query(store, "reading/build", BuildRow, unit=unit)
        series = frames.pop("series")
        groups = query(store, "pages/review/groups", GroupRow, **values, stratifiers=list(BIRTH))
        told = series[~series["is_silent"]]
        few = _few(told, info)
        births = NO_BIRTHS
        if few:
            births = query(store, "pages/review/births", BirthRow, measures=few, **values)
    over_time = signals.judge(told, info, frames["changes"], births)
    here = months[months["month"] == chosen]
    return ReviewData(
        unit=unit,
        title=title,
        month=chosen,
        births=int(here["births"].sum()),
        newborns=int(here["newborns"].sum()),
        measures=_measures(info, series, over_time, chosen),
        series=series[series["month"] > chosen - pd.DateOffset(months=MONTHS_DRAWN)],
        over_time=over_time,
        groups=groups,
        loads=loads,
        build=dict(zip(build["key"], build["value"], strict=True)),
        **frames,
    )
