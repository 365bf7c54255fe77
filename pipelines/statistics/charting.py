"""Which chart fits a measure: its points, its law of chance, and which way is better."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd

from pipelines.statistics import periods
from pipelines.statistics.chance import Chance, Level, Rate, Share
from pipelines.statistics.gap import Gap
from pipelines.statistics.phases import BREAKS, CHANGE, POINTS_AT_LEAST
from pipelines.statistics.reasons import (
    BLOCKS,
    BLOCKS_WITHOUT_MONTHS,
    EMPTY_PERIODS,
    OPEN_BLOCK,
    QUARTERS,
    RARE,
    TOO_FEW_EVENTS,
    Reason,
)

SHARES: Final = frozenset(
    {"proportion", "descriptive", "episode", "finding", "observation", "dose", "bands"}
)
MINUTES: Final = "minutes"
RATE: Final = "rate"
COUNT: Final = "count"
RARE_KIND: Final = "rare"
KINDS: Final = SHARES | {MINUTES, RATE, COUNT, RARE_KIND}

# Below one event in a usual month most months show none, and a share by month says little.
RARE_BELOW: Final = 1.0


@dataclass(frozen=True)
class Asked:
    """What the caller asked for; see ``over_time``."""

    kind: str
    direction: str
    block_of: int | None
    between: str


@dataclass(frozen=True)
class Charted:
    """Points and what is needed to judge them.

    ``learn`` makes the law of chance from the rows of a baseline. ``better``: ``up``, ``down``
    or empty, on the charted scale.
    """

    points: pd.DataFrame
    learn: Callable[[pd.DataFrame], Chance]
    chart_kind: str
    period_kind: str
    better: str
    is_share: bool = True
    block_of: int | None = None
    since_last: int | None = None
    reasons: list[Reason] = field(default_factory=list)


def _array(frame: pd.DataFrame, name: str) -> np.ndarray:
    return frame[name].to_numpy(float)


def _share(basis: pd.DataFrame) -> Chance:
    return Share.of(_array(basis, "total"), _array(basis, "size"))


def _rate(basis: pd.DataFrame) -> Chance:
    return Rate.of(_array(basis, "total"), _array(basis, "size"))


def _gap(basis: pd.DataFrame) -> Chance:
    return Gap.of(_array(basis, "rate"))


def _level(basis: pd.DataFrame) -> Chance:
    return Level.of(_array(basis, "rate"))


def _time(basis: pd.DataFrame) -> Chance:
    return Level.of(_array(basis, "rate"), is_time=True)


def needs_births(series: pd.DataFrame, kind: str) -> bool:
    """Return whether the chart gains from one row a birth: small numbers or rare events.

    ``series`` as for ``over_time``. A page asks first, for births are many more rows.
    """
    if kind not in SHARES | {RARE_KIND}:
        return False
    fewest = min(periods.usual_events(series, is_met) for is_met in (True, False))
    return periods.usual_size(series) < periods.MONTHLY_AT_LEAST or fewest < RARE_BELOW


def checked_breaks(breaks: pd.DataFrame | None) -> pd.DataFrame:
    """Return start_on and kind alone, dates as timestamps."""
    if breaks is None or breaks.empty:
        return pd.DataFrame({"start_on": pd.to_datetime([]), "kind": pd.Series([], dtype=str)})
    unknown = set(breaks["kind"]) - {*BREAKS, CHANGE}
    if unknown:
        raise ValueError(f"breaks: kind '{min(unknown)}'; known are policy, accepted and change.")
    return breaks[["start_on", "kind"]].assign(start_on=pd.to_datetime(breaks["start_on"]))


def checked(series: pd.DataFrame, kind: str) -> pd.DataFrame:
    """Return the series in order of month, or raise ValueError naming what cannot be."""
    if kind not in KINDS:
        raise ValueError(f"kind '{kind}'; known are {', '.join(sorted(KINDS))}.")
    missing = {"month", "numerator", "counted"} - set(series.columns)
    if missing:
        raise ValueError(f"series has no column {', '.join(sorted(missing))}.")
    months = pd.to_datetime(series["month"])
    numerator, counted = (
        pd.to_numeric(series[name]).to_numpy(float, na_value=np.nan)
        for name in ("numerator", "counted")
    )
    wrong = {
        "comes twice": months.duplicated().to_numpy(),
        "has a count that is negative or infinite": _impossible(numerator, counted, kind),
    }
    if kind in SHARES | {RARE_KIND}:
        known = counted > 0
        wrong["has more in the numerator than counted"] = known & (numerator > counted)
        wrong["has a denominator but no numerator"] = known & np.isnan(numerator)
    for words, where in wrong.items():
        if where.any():
            raise ValueError(f"month {months.iloc[int(np.argmax(where))]:%Y-%m} {words}.")
    order = np.argsort(months.to_numpy(), kind="stable")
    month = months.array.take(order)
    return pd.DataFrame({"month": month, "numerator": numerator[order], "counted": counted[order]})


def _impossible(numerator: np.ndarray, counted: np.ndarray, kind: str) -> np.ndarray:
    infinite = np.isinf(numerator) | np.isinf(counted)
    negative = counted < 0
    if kind != MINUTES:  # a median of minutes may lie before birth
        negative |= numerator < 0
    return np.asarray(infinite | negative)


def _empty(series: pd.DataFrame, points: pd.DataFrame) -> list[Reason]:
    """Count the months between the first and the last that give no point."""
    if points.empty or not len(series):
        return []
    first, last = points["start_on"].iloc[0], points["start_on"].iloc[-1]
    months = (last.year - first.year) * 12 + last.month - first.month + 1
    gaps = months - len(points)
    return [Reason(EMPTY_PERIODS, None, gaps)] if gaps > 0 else []


def _better(direction: str) -> str:
    return {"higher": "up", "lower": "down"}.get(direction, "")


def choose(
    series: pd.DataFrame, asked: Asked, breaks: pd.DataFrame, births: pd.DataFrame | None
) -> Charted:
    """Choose the points of the chart and their law from the measure's kind and counts."""
    if asked.kind in {MINUTES, RATE, COUNT}:
        return _measured(series, asked)
    why: list[Reason] = []
    if births is not None and len(births):
        rare = _rare(series, asked, births, why)
        if rare is not None:
            return rare
    return _shares(series, asked, breaks, births, why)


def _measured(series: pd.DataFrame, asked: Asked) -> Charted:
    """Chart values, rates per exposure or plain counts by month."""
    make, learn, chart_kind = {
        MINUTES: (periods.by_value, _level, "xmr"),
        RATE: (periods.by_month, _rate, "u"),
        COUNT: (periods.by_count, _rate, "c"),
    }[asked.kind]
    points = make(series)
    better = _better(asked.direction)
    why = _empty(series, points)
    return Charted(points, learn, chart_kind, periods.MONTH, better, is_share=False, reasons=why)


def _rare(
    series: pd.DataFrame, asked: Asked, births: pd.DataFrame, why: list[Reason]
) -> Charted | None:
    """Chart from event to event, where events are rare or it was asked for.

    The event is the rarer of met and not met. A longer gap is better where it is the one that
    nobody wants.
    """
    is_met = bool(births["is_met"].mean() <= 0.5)
    events = periods.usual_events(series, is_met)
    is_asked = asked.kind == RARE_KIND
    if not is_asked and (series.empty or events >= RARE_BELOW):
        return None
    number = int((births["is_met"].astype(bool) == is_met).sum())
    if not is_asked and number <= POINTS_AT_LEAST:
        why.append(Reason(TOO_FEW_EVENTS, None, number, POINTS_AT_LEAST + 1))
        return None
    why.append(Reason(RARE, None, events, RARE_BELOW))
    # The event is unwanted where met is better and it is a miss, or the other way round.
    better = {"higher": "down", "lower": "up"}.get(asked.direction, "")
    if better and not is_met:
        better = "up" if better == "down" else "down"
    if asked.between == "days":
        points = periods.by_days(births, is_met)
        return Charted(points, _time, "t", periods.GAP, better, is_share=False, reasons=why)
    points, since = periods.by_gap(births, is_met)
    return Charted(
        points, _gap, "g", periods.GAP, better, is_share=False, since_last=since, reasons=why
    )


def _shares(
    series: pd.DataFrame,
    asked: Asked,
    breaks: pd.DataFrame,
    births: pd.DataFrame | None,
    why: list[Reason],
) -> Charted:
    """Chart shares by month, or by block or quarter where a usual month has few births."""
    usual = periods.usual_size(series)
    better = _better(asked.direction)
    has_months = usual > 0
    if births is not None and len(births) and (usual < periods.MONTHLY_AT_LEAST or asked.block_of):
        default = periods.BLOCK_OF if has_months else periods.block_size(len(births))
        size = asked.block_of or default
        points, waiting = periods.by_block(births, size, breaks)
        name = BLOCKS if has_months else BLOCKS_WITHOUT_MONTHS
        why.append(Reason(name, None, usual or None, periods.MONTHLY_AT_LEAST))
        if waiting:
            why.append(Reason(OPEN_BLOCK, None, waiting, size))
        return Charted(points, _share, "p", periods.BLOCK, better, block_of=size, reasons=why)
    if has_months and usual < periods.MONTHLY_AT_LEAST:
        why.append(Reason(QUARTERS, None, usual, periods.MONTHLY_AT_LEAST))
        points = periods.by_quarter(series, breaks)
        return Charted(points, _share, "p", periods.QUARTER, better, reasons=why)
    points = periods.by_month(series)
    why += _empty(series, points)
    return Charted(points, _share, "p", periods.MONTH, better, reasons=why)
