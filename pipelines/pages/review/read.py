"""The monthly review of one unit: the frames its page is made of.

Reads a built store read-only; each query is one file of a room's ``sql``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import duckdb
import pandas as pd

from pipelines.base.errors import StoreError
from pipelines.base.frames import checked
from pipelines.base.store_file import open_store
from pipelines.definitions.gravity import LEVELS
from pipelines.definitions.read_measures import GROUPS
from pipelines.definitions.strata import BIRTH
from pipelines.pages.review.frames import (
    BornRow,
    FlagRuleRow,
    GroupRow,
    LeftToUnitRow,
    MeasureRow,
    ReasonRow,
    RecordFlagRow,
    RecordMeasureRow,
    RestatedRow,
    UnjudgedRow,
    WeightRow,
    WorklistReadRow,
    WorklistRejectedRow,
    WorklistSettingRow,
)
from pipelines.reading import life, signals, standing, verdict
from pipelines.reading.frames import BuildRow, LoadRow, MonthRow, RejectedRow
from pipelines.reading.harms import HarmData
from pipelines.reading.judged import Judged, read_judged
from pipelines.reading.months import last_full_month, parse_month
from pipelines.reading.queries import query, unit_title
from pipelines.reading.thinner import thinner
from pipelines.reading.verdict import ChangeVerdict
from pipelines.statistics.over_time import OverTime

# Limits stand on the first months there are; a chart shows the latest of them.
MONTHS_DRAWN = 36
# Query -> its declaration.
_FRAMES: Mapping[str, type[Mapping[str, object]]] = {
    "pages/review/record_measures": RecordMeasureRow,
    "pages/review/reasons": ReasonRow,
    "pages/review/left_to_unit": LeftToUnitRow,
    "pages/review/record_flags": RecordFlagRow,
    "pages/review/flag_rules": FlagRuleRow,
    "reading/rejected": RejectedRow,
    "pages/review/unjudged": UnjudgedRow,
    "pages/review/restated": RestatedRow,
    "pages/review/born": BornRow,
    "pages/review/weights": WeightRow,
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
    lines: pd.DataFrame  # one row per measure and dated line on one of its signals
    lives: pd.DataFrame  # one row per measure and signal of the last twelve months
    lives_before: pd.DataFrame  # the same, as the review of the month before knew it
    harms: HarmData  # what is rare and unwanted: sums over newborns and their signals
    verdicts: list[ChangeVerdict]  # on every change of the log, the latest first
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


def _measures(judged: Judged, verdicts: list[ChangeVerdict], weights: pd.DataFrame) -> pd.DataFrame:
    """Join what a measure is with its month and how it stands, in reading order."""
    now = judged.series[judged.series["month"] == judged.month].drop(columns="month")
    rows = judged.info.merge(now, on="measure_id", how="left")
    told = signals.moved(judged.over_time)
    alive = life.now(rows["measure_id"], judged.lives)
    # A harm beside a change that no rule of the chart has seen yet is as urgent as one that is.
    harmed = [one.measure_id for each in verdicts for one in each.unanswered if not one.life]
    alive["is_urgent"] |= alive["measure_id"].isin(harmed)
    rows = rows.merge(told, on="measure_id", how="left").merge(alive, on="measure_id")
    less_written = thinner(judged.series, judged.over_time, rows)
    rows = rows.merge(less_written, on="measure_id", how="left")
    rows = rows.merge(weights, on="measure_id", how="left")
    rows["gravity_place"] = rows["gravity_place"].fillna(len(LEVELS)).astype("int64")
    rows = standing.stand(rows)
    order = {name: place for place, name in enumerate(GROUPS)}
    rows["group_place"] = rows["group_name"].map(order).fillna(len(GROUPS))
    rows["gap"] = (rows["rate"] - rows["target"]).abs().fillna(-1)
    keys = ["group_place", "rank", "gap", "position"]
    rows = rows.sort_values(keys, ascending=[True, True, False, True], ignore_index=True)
    return checked(rows, MeasureRow)


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
        build = query(store, "reading/build", BuildRow, unit=unit)
        groups = query(store, "pages/review/groups", GroupRow, **values, stratifiers=list(BIRTH))
        judged = read_judged(store, unit, chosen)
    verdicts = verdict.verdicts(judged)
    here = months[months["month"] == chosen]
    return ReviewData(
        unit=unit,
        title=title,
        month=chosen,
        births=int(here["births"].sum()),
        newborns=int(here["newborns"].sum()),
        measures=_measures(judged, verdicts, frames.pop("weights")),
        series=judged.series[judged.series["month"] > chosen - pd.DateOffset(months=MONTHS_DRAWN)],
        over_time=judged.over_time,
        changes=judged.changes,
        lines=judged.lines,
        lives=judged.lives,
        lives_before=judged.lives_before,
        harms=judged.harms,
        verdicts=verdicts,
        groups=groups,
        loads=loads,
        build=dict(zip(build["key"], build["value"], strict=True)),
        **frames,
    )
