"""What the figures of a page must be, worked out anew from the rows of a store in a few lines.

Nothing of the program is used but the store's public views.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt
from pathlib import Path

import duckdb
import pandas as pd

Z = 1.959964  # two-sided 95 %
PARTS = ["late", "not_done", "not_met"]
UNKNOWN = ["not_documented", "unusable"]


def written(some: int, of: int, decimals: int = 0) -> str:
    """Write a share in percent as by hand: half a unit of the last digit goes up.

    A whole number that would say all or none of what is neither has one decimal.

    >>> written(1, 8), written(1, 3, 1), written(999, 1000), written(1, 3000)
    ('13', '33.3', '99.9', '0.1')
    """
    unit = 10**decimals
    whole = (200 * some * unit + of) // (2 * of)
    if decimals == 0 and ((whole == 0 and some) or (whole == 100 and some < of)):
        whole, unit = min(max((2000 * some + of) // (2 * of), 1), 999), 10
    return f"{whole / unit:.{1 if unit == 10 else 0}f}"


def end(percent: float) -> str:
    """Write a percentage that is no share of counts, in the same way."""
    return written(round(percent * 10**10), 10**12)


def is_written(percent: str, some: int, of: int) -> bool:
    """Return whether a written percentage is that of its counts, at the digits it is written in."""
    if not of:
        return False
    return percent in {written(some, of), written(some, of, 1)}


def wilson(some: int, of: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (Wilson, 1927), in percent."""
    share, square = some / of, Z * Z
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = Z / (1 + square / of) * sqrt(share * (1 - share) / of + square / (4 * of * of))
    return 100 * max(middle - half, 0.0), 100 * min(middle + half, 1.0)


Facts = dict[str, int | float | bool | None]


@dataclass(frozen=True)
class Truth:
    """A unit's figures.

    ``figures``: measure and month -> its counts by state, ``counted`` (N), ``target`` (a share).
    ``live`` and ``born``: month -> live births, and all records. ``titles``: title -> measure.
    ``flags``: one row per flag, with the month of birth where it is on a newborn.
    """

    figures: dict[tuple[str, pd.Timestamp], Facts]
    live: dict[pd.Timestamp, int]
    born: dict[pd.Timestamp, int]
    titles: dict[str, str]
    flags: pd.DataFrame

    @property
    def months(self) -> list[pd.Timestamp]:
        return sorted(self.born)

    def pair(self, measure: str, months: Iterable[pd.Timestamp]) -> tuple[int, int]:
        """Return n and N of a measure over some months."""
        rows = [self.figures.get((measure, month), {}) for month in months]
        return (
            sum(int(row.get("numerator") or 0) for row in rows),
            sum(int(row.get("counted") or 0) for row in rows),
        )


def truth(store: Path, unit: str) -> Truth:
    """Read a unit's figures from a store; N is made of the counted states, not taken from it."""
    with duckdb.connect(str(store), read_only=True) as open_store:
        rows = open_store.execute(
            "select * from result where unit = ? and period_kind = 'month' "
            "and stratifier = 'all newborns'",
            [unit],
        ).df()
        info = open_store.execute("select * from measure_info").df().set_index("measure_id")
        newborns = open_store.execute(
            "select birth_month, live_birth, record_id from newborn where unit = ?", [unit]
        ).df()
        flags = open_store.execute(
            "select flag.*, birth_month from flag left join newborn using (unit, record_id) "
            "where unit = ?",
            [unit],
        ).df()
        silent = open_store.execute(
            "select measure_id from silent_measure where unit = ?", [unit]
        ).df()
    rows["is_silent"] = rows["measure_id"].isin(silent["measure_id"])
    rows["left_out"] = rows["measure_id"].map(info["missing"]) == "left_out"
    counted = rows["numerator"] + rows[PARTS].sum(axis=1)
    rows["counted"] = counted + rows[UNKNOWN].sum(axis=1).where(~rows["left_out"], 0)
    born = newborns.groupby("birth_month")["live_birth"]
    return Truth(
        {(row["measure_id"], row["period_start"]): row for row in rows.to_dict("records")},
        born.apply(lambda one: int(one.fillna(True).sum())).to_dict(),
        born.size().to_dict(),
        {" ".join(str(title).split()): str(name) for name, title in info["title"].items()},
        flags,
    )
