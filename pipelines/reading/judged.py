"""Every measure of one unit over time, judged: what the review and the change study both read."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Final

import duckdb
import pandas as pd

from pipelines.base.frames import columns_of
from pipelines.definitions.signal_lines import ACCEPTED
from pipelines.reading import life, signals
from pipelines.reading.frames import BirthRow, ChangeRow, InfoRow, LogRow, SeriesRow
from pipelines.reading.harms import HarmData, Told, read_harms
from pipelines.reading.life import LineRow
from pipelines.reading.measured import read_values
from pipelines.reading.queries import query
from pipelines.statistics.charting import needs_births
from pipelines.statistics.over_time import OverTime

NO_BIRTHS: Final = pd.DataFrame(columns=list(columns_of(BirthRow)))


@dataclass(frozen=True)
class Judged:
    """One unit up to one month; ``frames.py`` and ``life.py`` declare the columns."""

    month: pd.Timestamp
    info: pd.DataFrame  # InfoRow: one row per measure
    series: pd.DataFrame  # SeriesRow: one row per measure and month, the whole history
    changes: pd.DataFrame  # ChangeRow: recorded changes and dates of policy by measure
    log: pd.DataFrame  # LogRow: one row per change in the unit's log
    lines: pd.DataFrame  # LineRow: what people wrote of signals
    over_time: Mapping[str, OverTime]  # measure_id -> its whole history, judged
    lives: pd.DataFrame  # LifeRow: signals of the last twelve months and their state
    lives_before: pd.DataFrame  # the same as the review of the month before could know it
    harms: HarmData  # what is rare and unwanted, newborn by newborn
    values: pd.DataFrame  # ValueRow: of the measures that the log names, and its process columns


def read_judged(
    store: duckdb.DuckDBPyConnection,
    unit: str,
    month: pd.Timestamp,
    measures: Collection[str] | None = None,
) -> Judged:
    """Read and judge the history of every measure up to ``month``, or of ``measures`` alone."""
    values = {"unit": unit, "month": month.date()}
    info = query(store, "reading/measures", InfoRow, unit=unit)
    series = query(store, "reading/series", SeriesRow, **values)
    changes = query(store, "reading/changes", ChangeRow, unit=unit)
    lines = query(store, "reading/signal_lines", LineRow, unit=unit)
    if measures is not None:
        series = series[series["measure_id"].isin(measures)]
    told = series[~series["is_silent"]]
    few = _few(told, info)
    births = NO_BIRTHS
    if few:
        births = query(store, "reading/births", BirthRow, measures=few, **values)
    judged_info = info if measures is None else info[info["measure_id"].isin(measures)]
    read = _Read(month, judged_info, told, changes, lines, births)
    over = read.judge()
    harms = read_harms(store, unit, month, Told(judged_info, series, changes, lines))
    lives = life.lives(over, lines, month, harms.alarms(month))
    log = query(store, "reading/change_log", LogRow, unit=unit)
    return Judged(
        month=month,
        info=info,
        series=series,
        changes=changes,
        log=log,
        lines=lines,
        over_time=over,
        lives=lives,
        lives_before=read.the_month_before({*lives["measure_id"], *lines["measure_id"]}, harms),
        harms=harms,
        values=read_values(store, unit, month, *_wanted(log, info, measures or ())),
    )


def _wanted(
    log: pd.DataFrame, info: pd.DataFrame, measures: Collection[str]
) -> tuple[list[str], set[str]]:
    """Return ``measures`` and those of the log, and the columns that its process names."""
    named = set(measures) | {
        str(name)
        for key in ("measures", "balancing", "process")
        for listed in log[key]
        if hasattr(listed, "__iter__")
        for name in listed
    }
    known = info["measure_id"].isin(named) | info["parent_id"].isin(named)
    columns = named - {*info["measure_id"], *info["parent_id"]}
    return list(info.loc[known, "measure_id"]), columns


@dataclass(frozen=True)
class _Read:
    """The frames that judging takes, and the month up to which it is done."""

    month: pd.Timestamp
    info: pd.DataFrame
    series: pd.DataFrame
    changes: pd.DataFrame
    lines: pd.DataFrame
    births: pd.DataFrame

    def judge(self) -> dict[str, OverTime]:
        breaks = _breaks(self.changes, self.lines)
        return signals.judge(self.series, self.info, breaks, self.births)

    def the_month_before(self, measures: Collection[str], harms: HarmData) -> pd.DataFrame:
        """Return the signals of the month before from the months and lines there were then.

        Of ``measures`` alone: those with a signal now, or a line; a signal of then is among
        them, ended or not. A line written since the month began is news of its review, for the
        one before was held about then. Numbers of earlier months are those of today's store.
        """
        then, end = self.month - pd.DateOffset(months=1), self.month
        lines = self.lines[self.lines["said_on"] < end]
        births = self.births[self.births["month"].isna() | (self.births["month"] < end)]
        series = self.series[self.series["month"] < end]
        info = self.info[self.info["measure_id"].isin(measures)]
        over = replace(self, info=info, series=series, births=births, lines=lines).judge()
        return life.lives(over, lines, then, harms.alarms(then))


def _few(series: pd.DataFrame, info: pd.DataFrame) -> list[str]:
    """Return the measures whose chart gains from one row per birth."""
    kinds = dict(zip(info["measure_id"], info["kind"], strict=True))
    return [
        str(name)
        for name, rows in series.groupby("measure_id")
        if needs_births(rows, str(kinds[name]))
    ]


def _breaks(changes: pd.DataFrame, lines: pd.DataFrame) -> pd.DataFrame:
    """Return what a chart is told of: changes, dates of policy and accepted levels."""
    levels = lines.loc[lines["step"] == ACCEPTED, ["measure_id", "level_from"]]
    levels = levels.rename(columns={"level_from": "start_on"}).assign(kind=ACCEPTED)
    both = [changes[["measure_id", "start_on", "kind"]], levels]
    return pd.concat([one for one in both if len(one)] or both[:1], ignore_index=True)
