"""Rare and unwanted: which measures, their newborns, and the sum of what was not expected.

Frame in, frame out; the query is ``sql/newborns.sql``. The methods are in
:mod:`pipelines.statistics.rare_harm`. A measure is harm by its file: fewer is better, and whoever
is not documented is left out of its rate; it is rare by how many events its months have.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from pipelines.base.frames import checked, rows_of
from pipelines.base.store_file import open_store
from pipelines.definitions.read_measures import UNKNOWN_LEFT_OUT
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.harm.frames import MonthRow, NewbornRow
from pipelines.pages.review.read import ReviewData
from pipelines.reading.queries import query
from pipelines.statistics import rare_harm
from pipelines.statistics.rare_harm import Watched

KINDS: Final = ("proportion", "bands")  # one row to a newborn
KNOWN: Final = ("gestation_band", "mode_of_birth", "birth_place")  # what is known before care
RECENT: Final = 12  # months


@dataclass(frozen=True)
class Signal:
    """Where a sum reached its limit: the month, and the newborns since it last stood at 0."""

    month: pd.Timestamp
    since: pd.Timestamp
    newborns: int
    events: int
    expected: float


@dataclass(frozen=True)
class Harm:
    """One measure. ``newborns``: NewbornRow; ``months``: MonthRow, after the baseline."""

    measure_id: str
    title: str
    newborns: pd.DataFrame
    watched: Watched
    months: pd.DataFrame
    signals: tuple[Signal, ...]

    def recent(self, month: pd.Timestamp) -> tuple[Signal, ...]:
        """Return the signals of the twelve months to one."""
        first = month - pd.DateOffset(months=RECENT - 1)
        return tuple(one for one in self.signals if one.month >= first)


@dataclass(frozen=True)
class HarmData:
    """What the section says. ``too_few``: title and events of measures without a sum yet."""

    month: pd.Timestamp
    harms: tuple[Harm, ...]
    too_few: tuple[tuple[str, int], ...]


def chosen(data: ReviewData) -> list[MeasureRow]:
    """Return the measures of rare harm, in the order of the page."""
    rows = data.measures
    is_harm = (rows["direction"] == "lower") & (rows["missing"] == UNKNOWN_LEFT_OUT)
    is_harm &= rows["kind"].isin(KINDS) & ~rows["is_silent"].astype(bool)
    known = data.series[data.series["counted"] > 0].groupby("measure_id")["numerator"]
    usual = rows["measure_id"].map(known.mean()).fillna(0.0)
    below = float(rare_harm.numbers()["below_a_month"])
    return rows_of(rows[is_harm & (usual > 0) & (usual < below)], MeasureRow)


def _since_policy(newborns: pd.DataFrame, changes: pd.DataFrame) -> pd.DataFrame:
    """Return the newborns of whole months since the last date of policy: before, it was other."""
    if newborns.empty:
        return newborns
    starts = changes.loc[changes["kind"] == "policy", "start_on"]
    starts = starts[starts <= newborns["month"].iloc[-1]]
    return newborns if starts.empty else newborns[newborns["month"] >= starts.max()]


def design(newborns: pd.DataFrame) -> np.ndarray:
    """Return one column, 0 or 1, for each word of what was known before care."""
    return pd.get_dummies(newborns[list(KNOWN)], dtype=float).to_numpy(float)


def harm_of(row: MeasureRow, newborns: pd.DataFrame) -> Harm | None:
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
        measure_id=row["measure_id"],
        title=row["title"],
        newborns=newborns,
        watched=watched,
        months=_months(newborns, watched),
        signals=tuple(_signal(newborns, watched, int(at)) for at in watched.signals),
    )


def _months(newborns: pd.DataFrame, watched: Watched) -> pd.DataFrame:
    judged = newborns.assign(expected=watched.chance, height=watched.path)
    judged = judged.iloc[watched.baseline :]
    months = judged.groupby("month", as_index=False).agg(
        newborns=("happened", "size"),
        events=("happened", "sum"),
        expected=("expected", "sum"),
        height=("height", "last"),
    )
    return checked(months, MonthRow)


def _signal(newborns: pd.DataFrame, watched: Watched, at: int) -> Signal:
    run = watched.run_of(at)
    return Signal(
        month=newborns["month"].iloc[at],
        since=newborns["month"].iloc[run.start],
        newborns=run.stop - run.start,
        events=int(newborns["happened"].iloc[run].sum()),
        expected=float(watched.chance[run].sum()),
    )


def read_harm(store_path: Path | str, data: ReviewData) -> HarmData:
    """Read and watch the measures of rare harm up to the page's month."""
    rows = chosen(data)
    asked = {"unit": data.unit, "month": data.month.date()}
    names = [row["measure_id"] for row in rows]
    with open_store(Path(store_path)) as store:
        found = query(store, "pages/review/harm/newborns", NewbornRow, measures=names, **asked)
    harms, too_few = [], []
    for row in rows:
        own = found[found["measure_id"] == row["measure_id"]].reset_index(drop=True)
        changes = data.changes[data.changes["measure_id"] == row["measure_id"]]
        own = _since_policy(own, changes)
        harm = harm_of(row, own)
        if harm is None:
            too_few.append((row["title"], int(own["happened"].sum())))
        else:
            harms.append(harm)
    return HarmData(data.month, tuple(harms), tuple(too_few))
