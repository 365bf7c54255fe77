"""Rare and unwanted: which measures, their newborns, the sum of what was not expected, its alarms.

The methods are in :mod:`pipelines.statistics.rare_harm`. A measure is harm by its file: fewer is
better, and whoever is not documented is left out of its rate; it is rare by how many events its
months have.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Final, TypedDict

import duckdb
import numpy as np
import pandas as pd

from pipelines.base.frames import checked, rows_of
from pipelines.definitions.read_measures import UNKNOWN_LEFT_OUT
from pipelines.definitions.signal_lines import ACCEPTED
from pipelines.reading.frames import InfoRow
from pipelines.reading.life import Alarm
from pipelines.reading.queries import query
from pipelines.statistics import rare_harm
from pipelines.statistics.rare_harm import Watched

KINDS: Final = ("proportion", "bands")  # one row to a newborn
KNOWN: Final = ("gestation_band", "mode_of_birth", "birth_place")  # what is known before care
RECENT: Final = 12  # months


class NewbornRow(TypedDict):
    """One row per newborn and measure, in order of birth."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    month: Annotated[pd.Timestamp, "of birth; first day"]
    happened: Annotated[bool, "the event came"]
    gestation_band: Annotated[str, "gestational age in words, or 'not recorded'"]
    mode_of_birth: Annotated[str, "or 'not recorded'"]
    birth_place: Annotated[str, "or 'not recorded'"]


class HarmMonthRow(TypedDict):
    """``Harm.months``: one row per month after the baseline."""

    month: Annotated[pd.Timestamp, "first day"]
    newborns: Annotated[int, "whom the rate is made of"]
    events: Annotated[int, "newborns to whom it happened"]
    expected: Annotated[float, "events, by what was known before care"]
    height: Annotated[float, "the sum after the last newborn of the month"]


@dataclass(frozen=True)
class Signal:
    """Where a sum reached its limit: the month, and the newborns since it last stood at 0.

    ``over_in``: the month in which it was over; None while it is not.
    """

    month: pd.Timestamp
    since: pd.Timestamp
    newborns: int
    events: int
    expected: float
    over_in: pd.Timestamp | None = None


@dataclass(frozen=True)
class Harm:
    """One measure. ``newborns``: NewbornRow; ``months``: HarmMonthRow, after the baseline."""

    measure_id: str
    title: str
    newborns: pd.DataFrame
    watched: Watched
    months: pd.DataFrame
    signals: tuple[Signal, ...]

    def recent(self, month: pd.Timestamp) -> tuple[Signal, ...]:
        """Return the signals of the twelve months to one."""
        first = month - pd.DateOffset(months=RECENT - 1)
        return tuple(one for one in self.signals if first <= one.month <= month)

    def alarm(self, month: pd.Timestamp) -> Alarm | None:
        """Return what its signals of up to ``month`` are as an episode; None without one.

        It speaks until it is over (:func:`rare_harm.over`). Signals of which the one before was
        not over are one episode.
        """
        told = [one for one in self.signals if one.month <= month]
        if not told:
            return None
        began = told[-1]
        for earlier in reversed(told[:-1]):
            if earlier.over_in is not None and earlier.over_in <= began.month:
                break
            began = earlier
        over_in = told[-1].over_in
        if over_in is not None and over_in <= month:
            return Alarm(began.month, began.month, over_in, speaks=False)
        return Alarm(began.month, began.month, month, speaks=True)


@dataclass(frozen=True)
class HarmData:
    """What is known of rare harm. ``too_few``: title and events of measures without a sum yet."""

    month: pd.Timestamp
    harms: tuple[Harm, ...]
    too_few: tuple[tuple[str, int], ...] = ()

    def of(self, measure_id: str) -> Harm | None:
        """Return the sum of a measure; None where it has none."""
        return next((one for one in self.harms if one.measure_id == measure_id), None)

    def alarms(self, month: pd.Timestamp) -> dict[str, Alarm]:
        """Return measure -> its alarm as it was known at the end of ``month``."""
        told = ((one.measure_id, one.alarm(month)) for one in self.harms)
        return {name: alarm for name, alarm in told if alarm is not None}


def chosen(info: pd.DataFrame, series: pd.DataFrame) -> list[InfoRow]:
    """Return the measures of rare harm, in the order of the pages.

    ``info``: InfoRow. ``series``: SeriesRow, the whole history.
    """
    is_harm = (info["direction"] == "lower") & (info["missing"] == UNKNOWN_LEFT_OUT)
    is_harm &= info["kind"].isin(KINDS)
    is_harm &= ~info["measure_id"].isin(series.loc[series["is_silent"], "measure_id"])
    known = series[series["counted"] > 0].groupby("measure_id")["numerator"]
    usual = info["measure_id"].map(known.mean()).fillna(0.0)
    below = float(rare_harm.numbers()["below_a_month"])
    found = info[is_harm & (usual > 0) & (usual < below)]
    return rows_of(found.sort_values("position", kind="stable"), InfoRow)


def _starts(
    newborns: pd.DataFrame, changes: pd.DataFrame, lines: pd.DataFrame
) -> list[pd.Timestamp]:
    """Return the months from which a baseline could be learned, the latest first.

    The last date of policy: before it, it was another measure. Accepted levels after it: what
    came before is no longer what is expected, once the new level has a baseline.
    """
    if newborns.empty:
        return []
    last = newborns["month"].iloc[-1]
    policy = changes.loc[changes["kind"] == "policy", "start_on"]
    policy = policy[policy <= last]
    first = newborns["month"].min() if policy.empty else policy.max()
    levels = lines.loc[lines["step"] == ACCEPTED, "level_from"].dropna()
    levels = levels[(levels > first) & (levels <= last)]
    return [*sorted(set(levels), reverse=True), first]


def design(newborns: pd.DataFrame) -> np.ndarray:
    """Return one column, 0 or 1, for each word of what was known before care."""
    return pd.get_dummies(newborns[list(KNOWN)], dtype=float).to_numpy(float)


def harm_of(measure_id: str, title: str, newborns: pd.DataFrame) -> Harm | None:
    """Return one measure watched; None where its baseline holds too few events.

    ``newborns``: NewbornRow of the measure, in order of birth.
    """
    newborns = newborns.sort_values("month", kind="stable", ignore_index=True)
    month = newborns["month"].dt.year * 12 + newborns["month"].dt.month
    happened = newborns["happened"].to_numpy(bool)
    watched = rare_harm.watch(design(newborns), happened, month.to_numpy("int64"))
    if watched is None:
        return None
    return Harm(
        measure_id=measure_id,
        title=title,
        newborns=newborns,
        watched=watched,
        months=_months(newborns, watched),
        signals=tuple(
            _signal(newborns, watched, int(at), int(end))
            for at, end in zip(watched.signals, watched.ends, strict=True)
        ),
    )


def first_watched(
    measure_id: str, title: str, newborns: pd.DataFrame, starts: Iterable[pd.Timestamp]
) -> Harm | None:
    """Return a measure watched from the first of ``starts`` that gives a baseline; else None."""
    tried = (harm_of(measure_id, title, newborns[newborns["month"] >= one]) for one in starts)
    return next((one for one in tried if one is not None), None)


def _months(newborns: pd.DataFrame, watched: Watched) -> pd.DataFrame:
    judged = newborns.assign(expected=watched.chance, height=watched.path)
    judged = judged.iloc[watched.baseline :]
    months = judged.groupby("month", as_index=False).agg(
        newborns=("happened", "size"),
        events=("happened", "sum"),
        expected=("expected", "sum"),
        height=("height", "last"),
    )
    return checked(months, HarmMonthRow)


def _signal(newborns: pd.DataFrame, watched: Watched, at: int, end: int) -> Signal:
    run = watched.run_of(at)
    return Signal(
        month=newborns["month"].iloc[at],
        since=newborns["month"].iloc[run.start],
        newborns=run.stop - run.start,
        events=int(newborns["happened"].iloc[run].sum()),
        expected=float(watched.chance[run].sum()),
        over_in=newborns["month"].iloc[end] if end < len(newborns) else None,
    )


@dataclass(frozen=True)
class Told:
    """What is known of the measures of one unit; ``reading.judged`` has the same frames."""

    info: pd.DataFrame  # InfoRow
    series: pd.DataFrame  # SeriesRow
    changes: pd.DataFrame  # ChangeRow
    lines: pd.DataFrame  # LineRow

    def of(self, frame: pd.DataFrame, measure_id: str) -> pd.DataFrame:
        """Return the rows of one measure."""
        rows: pd.DataFrame = frame[frame["measure_id"] == measure_id]
        return rows


def read_harms(
    store: duckdb.DuckDBPyConnection, unit: str, month: pd.Timestamp, told: Told
) -> HarmData:
    """Read and watch the measures of rare harm up to a month."""
    rows = chosen(told.info, told.series)
    asked: dict[str, object] = {"unit": unit, "month": month.date()}
    names = [row["measure_id"] for row in rows]
    found = query(store, "reading/harm_newborns", NewbornRow, measures=names, **asked)
    harms, too_few = [], []
    for row in rows:
        name, title = str(row["measure_id"]), str(row["title"])
        own = told.of(found, name)
        starts = _starts(own, told.of(told.changes, name), told.of(told.lines, name))
        harm = first_watched(name, title, own, starts)
        if harm is None:
            since = own[own["month"] >= starts[-1]] if starts else own
            too_few.append((title, int(since["happened"].sum())))
        else:
            harms.append(harm)
    return HarmData(month, tuple(harms), tuple(too_few))
