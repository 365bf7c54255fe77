"""Geometry of the small drawings inside table cells: interval bar, trend, bars of counts.

The bar runs from 0 to 100 %; a trend is fitted to its months and target, so that a rare
event is seen to move; bars of counts run to their own highest. The
page's templates turn the numbers into SVG; nothing here carries text of an export.
"""

from typing import Any, Final, TypedDict

import pandas as pd

from pipelines.reading.small_numbers import SMALL
from pipelines.words.of_numbers import is_missing

BAR_WIDTH, BAR_HEIGHT = 132, 20
TREND_WIDTH, TREND_HEIGHT = 132, 28
TREND_MONTHS: Final = 24
_INSET: Final = 4.0
_LEAST_SPAN: Final = 0.1  # share between foot and head of a trend


class BarRow(TypedDict):
    """What a bar is drawn of: shares, and how many newborns count (missing: masked)."""

    rate: float | None
    lower: float | None
    upper: float | None
    target: float | None
    counted: int


def _across(share: float, width: int) -> float:
    return round(_INSET + share * (width - 2 * _INSET), 1)


def interval_bar(row: BarRow) -> dict[str, Any] | None:
    """Return x positions in px of lower, upper, rate and target (or None), and is_small."""
    rate, lower, upper = row["rate"], row["lower"], row["upper"]
    if rate is None or lower is None or upper is None:
        return None
    shares = {"lower": lower, "upper": upper, "rate": rate}
    place = {name: _across(share, BAR_WIDTH) for name, share in shares.items()}
    target = None if row["target"] is None else _across(row["target"], BAR_WIDTH)
    ends = {"start": _across(0, BAR_WIDTH), "end": _across(1, BAR_WIDTH)}
    size = {"width": BAR_WIDTH, "height": BAR_HEIGHT, "middle": BAR_HEIGHT / 2}
    return {**place, **ends, **size, "target": target, "is_small": row["counted"] < SMALL}


def _span(rates: pd.Series, target: float | None) -> tuple[float, float]:
    """Return the shares at foot and head of a trend: at least ten points apart, within 0 and 1."""
    known = [*rates.dropna(), *([] if target is None else [target])]
    low, high = float(min(known)), float(max(known))
    room = max(0.0, _LEAST_SPAN - (high - low)) / 2
    low, high = low - room, high + room
    shift = max(0.0, -low) - max(0.0, high - 1)
    return max(0.0, low + shift), min(1.0, high + shift)


def trend(series: pd.DataFrame) -> dict[str, Any] | None:
    """Return the path of the last 24 months, the last point and the target's height, in px.

    The path starts anew after a month without a rate. None where no month has a rate.
    """
    shown = series.tail(TREND_MONTHS)
    if shown["rate"].notna().sum() == 0:
        return None
    step = (TREND_WIDTH - 2 * _INSET) / max(TREND_MONTHS - 1, 1)
    first = TREND_MONTHS - len(shown)
    xs = [round(_INSET + (first + place) * step, 1) for place in range(len(shown))]
    target = shown["target"].iloc[-1]
    low, high = _span(shown["rate"], None if is_missing(target) else float(target))
    drop = (TREND_HEIGHT - 2 * _INSET) / (high - low)
    ys = (_INSET + (high - shown["rate"]) * drop).round(1)
    starts = ys.shift().isna()
    path = "".join(
        f"{'M' if start else 'L'}{x} {y}"
        for x, y, start in zip(xs, ys, starts, strict=True)
        if not is_missing(y)
    )
    last = shown["rate"].last_valid_index()
    return {
        "width": TREND_WIDTH,
        "height": TREND_HEIGHT,
        "path": path,
        "x": xs[list(shown.index).index(last)],
        "y": ys[last],
        "target": None if is_missing(target) else round(_INSET + (high - target) * drop, 1),
        "start": _INSET,
        "end": TREND_WIDTH - _INSET,
    }


def counts(by_month: pd.Series) -> dict[str, Any]:
    """Return the path of thin bars, one per month, and their highest count, in px.

    ``by_month``: counts in order of month, at most 24; they stand at the right.
    """
    step = (TREND_WIDTH - 2 * _INSET) / TREND_MONTHS
    first = TREND_MONTHS - len(by_month)
    highest = max(int(by_month.max()), 1)
    floor, rise = TREND_HEIGHT - 1, TREND_HEIGHT - _INSET
    xs = [round(_INSET + (first + place) * step, 1) for place in range(len(by_month))]
    wide = round(step * 0.7, 1)
    path = "".join(
        f"M{x} {floor}v{-round(amount / highest * rise, 1)}h{wide}V{floor}Z"
        for x, amount in zip(xs, by_month, strict=True)
        if amount
    )
    size = {"width": TREND_WIDTH, "height": TREND_HEIGHT, "floor": floor}
    return {**size, "path": path, "start": xs[0], "end": round(xs[-1] + wide, 1)}
