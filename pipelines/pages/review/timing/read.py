"""How long it took: minutes until care was on record, over the twelve months to a page's.

Frame in, frame out; queries are ``sql``. A newborn with a usable time had it then. One
without (not documented, recorded as not done, not met, unusable) is watched, without it on
record, until it died, was transferred or went home, or to the end of the picture, whichever came
first: that is its censoring time. Newborns set apart by the measure are left out here as there.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from pipelines.base.store_file import open_store
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.timing.frames import OpenRow, SpreadRow, WaitRow
from pipelines.reading.queries import query
from pipelines.reading.small_numbers import CHANGE_LEVEL, SMALL
from pipelines.statistics import survival
from pipelines.statistics.survival import Compared, Curve

# The measures whose minutes are drawn: care that every newborn is to have, counted from birth.
TIMED: Final = ("first_temperature", "skin_contact_start", "vitamin_k")
ALL: Final = "all newborns"
BIRTHS: Final = ("vaginal", "caesarean")
LATE_MONTHS: Final = 3
# End of a picture in minutes -> minutes between its numbers at risk.
ENDS: Final = {
    15: 5, 30: 5, 60: 15, 90: 15, 120: 30, 180: 30, 240: 60, 360: 60, 480: 120, 720: 120,
    1440: 240,
}  # fmt: skip
SHOWN_SHARE: Final = 0.98  # of the known times, that a picture reaches to


@dataclass(frozen=True)
class Group:
    """One curve: a kind of birth, or all newborns.

    ``due`` is the window's end in the last month, None where it differs between newborns;
    ``moved`` says that it was another in earlier months.
    """

    name: str
    curve: Curve
    times: np.ndarray
    seen: np.ndarray
    opens: float
    due: float | None
    moved: bool


@dataclass(frozen=True)
class Timed:
    """One measure's picture and what its sentences need."""

    measure_id: str
    title: str
    end: int
    groups: tuple[Group, ...]  # the curves drawn: by kind of birth, or one
    whole: Group
    met: int  # within the window as the measure counts it, of ``whole.curve.newborns``
    states: dict[str, int]  # newborns without a usable time, by state
    apart: int
    birth_not_recorded: int
    by_birth: Compared
    by_time: Compared  # the last three months against those before

    @property
    def ticks(self) -> list[int]:
        """Minutes at which the numbers at risk stand."""
        return list(range(0, self.end + 1, ENDS[self.end]))


@dataclass(frozen=True)
class TimingData:
    """What a month's section says; ``frames.py`` declares the columns of each frame."""

    first: pd.Timestamp
    last: pd.Timestamp
    timed: tuple[Timed, ...]  # in the page's order
    spread: pd.DataFrame  # one row per measure of kind minutes and month or whole quarter


def picture_end(waits: pd.DataFrame) -> int:
    """Return the last minute of a picture: past nearly all known times, and twice the window."""
    known, due = waits["minutes"].dropna(), waits["due_minutes"].dropna()
    reach = float(known.quantile(SHOWN_SHARE)) if len(known) else 0.0
    reach = max(reach, 2 * float(due.max()) if len(due) else 0.0)
    return next((end for end in ENDS if end >= reach), max(ENDS))


def watched(waits: pd.DataFrame, end: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the last minute each newborn was watched, and whether it was on record then.

    ``waits``: minutes (missing: no usable time), left_minutes (missing: stayed). What came after
    ``end`` is not seen in a picture that stops there.
    """
    minutes = waits["minutes"].to_numpy(float)
    seen = np.isfinite(minutes) & (minutes <= end)
    left = np.fmin(np.nan_to_num(waits["left_minutes"].to_numpy(float), nan=end), end)
    until = np.where(seen, minutes, np.where(np.isfinite(minutes), end, left))
    return np.clip(until, 0.0, end), seen


def _group(waits: pd.DataFrame, name: str, end: int, opens: float) -> Group:
    times, seen = watched(waits, end)
    in_force = waits.loc[waits["month"] == waits["month"].max(), "due_minutes"].dropna().unique()
    due = float(in_force[0]) if len(in_force) == 1 else None
    moved = due is not None and bool((waits["due_minutes"].dropna() != due).any())
    return Group(name, survival.curve(times, seen), times, seen, opens, due, moved)


def _by_time(waits: pd.DataFrame, end: int, last: pd.Timestamp) -> Compared:
    late = waits["month"] > last - pd.DateOffset(months=LATE_MONTHS)
    return survival.compare(
        {"late": watched(waits[late], end), "before": watched(waits[~late], end)}
    )


def time_one(
    waits: pd.DataFrame, measure_id: str, title: str, opens: float, last: pd.Timestamp
) -> Timed | None:
    """Return one measure's picture, or None where every newborn is set apart.

    ``waits``: month, state, is_apart, minutes, due_minutes, left_minutes, birth. Kinds of birth
    are drawn apart where both have at least 20 newborns, else all together.
    """
    kept = waits[~waits["is_apart"]]
    if kept.empty:
        return None
    end = picture_end(kept)
    parts = {name: kept[kept["birth"] == name] for name in BIRTHS}
    whole = _group(kept, ALL, end, opens)
    is_split = all(len(part) >= SMALL for part in parts.values())
    groups = tuple(_group(part, name, end, opens) for name, part in parts.items())
    untimed = kept.loc[kept["minutes"].isna(), "state"].value_counts()
    return Timed(
        measure_id=measure_id,
        title=title,
        end=end,
        groups=groups if is_split else (whole,),
        whole=whole,
        met=int((kept["state"] == "met").sum()),
        states={str(state): int(number) for state, number in untimed.items()},
        apart=len(waits) - len(kept),
        birth_not_recorded=int((~kept["birth"].isin(BIRTHS)).sum()),
        by_birth=survival.compare({one.name: (one.times, one.seen) for one in groups})
        if is_split
        else Compared(None, None, 1, survival.ONE_GROUP),
        by_time=_by_time(kept, end, last),
    )


def minute_of(of: Curve, share: float) -> float | None:
    """Return the first minute by which ``share`` of the newborns had it; None where fewer did."""
    reached = of.steps.loc[of.steps["survival"] <= 1 - share + 1e-12, "time"]
    return float(reached.iloc[0]) if len(reached) else None


def differs(of: Compared) -> bool:
    """Say whether curves differ by more than chance explains (1 in 100, as elsewhere)."""
    return of.p_value is not None and of.p_value < CHANGE_LEVEL


def read_timing(
    store_path: Path | str, data: ReviewData, measures: tuple[str, ...] = TIMED
) -> TimingData:
    """Read the minutes of ``measures`` for the twelve months to the page's, and the spread.

    Measures that the store has not, or that the unit switched off, are left out.
    """
    values: dict[str, Any] = {
        "unit": data.unit,
        "month": data.month.date(),
        "measures": list(measures),
    }
    with open_store(Path(store_path)) as store:
        waits = query(store, "pages/review/timing/waits", WaitRow, **values)
        opened = query(store, "pages/review/timing/opens", OpenRow, **values)
        opens = opened.set_index("measure_id")["opens_minutes"]
        spread = query(store, "pages/review/timing/spread", SpreadRow, **values)
    titles = data.measures.set_index("measure_id")["title"]
    timed = [
        time_one(
            waits[waits["measure_id"] == name],
            name,
            str(titles[name]),
            float(opens.fillna(0.0).get(name, 0.0)),
            data.month,
        )
        for name in measures
        if name in titles.index
    ]
    return TimingData(
        first=data.month - pd.DateOffset(months=11),
        last=data.month,
        timed=tuple(one for one in timed if one is not None),
        spread=spread,
    )
