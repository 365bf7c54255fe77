"""The chart of a measure that is too rare for months: quarters, blocks of births, or gaps.

A judged history in, an ``alt.LayerChart`` out; the grammar is that of ``over_months.py``.
"""

from typing import Final

import altair as alt
import pandas as pd

from pipelines.drawing import percents, signals
from pipelines.drawing.layers import chance, tips, whole
from pipelines.drawing.over_months import EDGE_PX
from pipelines.drawing.percents import Fitted, fitted
from pipelines.drawing.theme import CHART_HEIGHT_PX, LIGHT, SHAPES
from pipelines.reading.frames import MeasureNow
from pipelines.statistics.over_time import OverTime
from pipelines.words import of_numbers, of_states

_NAMED: Final = 8  # periods whose name stands under the axis
_AXIS: Final = {
    "quarter": "quarters",
    "block": "blocks of births, in order",
    "gap": "one such newborn after the other",
    "month": "months",
}
_BETWEEN: Final = {"g": "newborns between", "t": "days between"}


def _is_share(over: OverTime) -> bool:
    return over.period_kind != "gap"


def _points(over: OverTime) -> pd.DataFrame:
    """Return what is drawn, one row per period; shares as percentages."""
    rows = over.points
    times = 100 if _is_share(over) else 1
    points = pd.DataFrame({"period": rows["period"]})
    for name, column in (
        ("value", "rate"),
        ("centre", "centre"),
        ("low", "lower_limit"),
        ("high", "upper_limit"),
    ):
        points[name] = (rows[column].astype(float) * times).round(1)
    points["phase"] = rows["phase"]
    points["Period"] = _names(over)
    points["Value"] = [_value(one, over) for one in points["value"]]
    if _is_share(over):
        pairs = rows.rename(columns={"n": "counted"}).fillna({"numerator": 0, "counted": 0})
        points["n of N"] = of_numbers.fractions(pairs)
    points["Signal"] = [
        "; ".join(of_states.RULE_WORDS[name] for name in one) for one in rows["rules"]
    ]
    return points


def _names(over: OverTime) -> list[str]:
    starts = over.points["start_on"]
    if over.period_kind == "quarter":
        return [f"{one:%b %y} on" for one in starts]
    dated = [f", {one:%b %y}" if not pd.isna(one) else "" for one in starts]
    return [f"{number}{when}" for number, when in zip(over.points["period"], dated, strict=True)]


def _value(value: float, over: OverTime) -> str:
    if pd.isna(value):
        return of_numbers.NONE
    return of_numbers.percent(value / 100) if _is_share(over) else f"{value:g}"


def _y(points: pd.DataFrame, over: OverTime, axis: Fitted | None, ends: tuple[int, int]) -> alt.Y:
    if axis is not None:
        return percents.up("value", axis, ends)
    title = _BETWEEN.get(over.chart_kind, "newborns between")
    scale = alt.Scale(zero=True, range=list(ends))
    return alt.Y("value:Q", scale=scale, axis=alt.Axis(title=title, tickCount=5))


def _axis(points: pd.DataFrame, over: OverTime) -> Fitted | None:
    """Return the axis of shares; None where the chart counts what lies between events."""
    if not _is_share(over):
        return None
    held = points[["value", "centre"]].to_numpy(float).ravel()
    return fitted(held, [*points["low"], *points["high"]])


def _x(points: pd.DataFrame, over: OverTime) -> alt.X:
    every = max(1, -(-len(points) // _NAMED))
    return alt.X(
        "period:Q",
        scale=alt.Scale(domain=[0.5, len(points) + 0.5], nice=False),
        axis=alt.Axis(
            values=[int(one) for one in points["period"][::every]],
            format="d",
            title=_AXIS[over.period_kind],
        ),
    )


def over_periods(over: OverTime, measure: MeasureNow) -> alt.LayerChart:
    """Chart one measure over its quarters, blocks or gaps. Needs two periods or more."""
    points = _points(over)
    values = dict(zip(points["period"], points["value"], strict=True))
    found = signals.spoken(over, values, lambda row: row["period"])
    top = EDGE_PX + signals.lanes(found)
    floor = top + CHART_HEIGHT_PX
    axis = _axis(points, over)
    base = alt.Chart().encode(x=alt.X("period:Q"))
    told = [name for name in ("Period", "n of N", "Value", "Signal") if name in points]
    dots = base.mark_point(
        shape=SHAPES["value"], size=34, filled=True, opacity=1, color=LIGHT["data"]
    )
    marks = [
        *chance(base, points),
        base.mark_line(strokeWidth=1.2, color=LIGHT["data"]).encode(y=alt.Y("value:Q")),
        dots.encode(
            x=_x(points, over), y=_y(points, over, axis, (floor, top)), tooltip=tips(*told)
        ),
        *signals.lane(found, "period:Q", "value:Q", 0, len(points) / 2),
        *signals.marks(found, "period:Q", "value:Q"),
        *(percents.sign(axis, floor) if axis else []),
    ]
    return whole(
        marks,
        floor + (percents.SIGN_PX if axis and axis.is_broken else 0),
        alt_text(over, measure),
        data=points,
        settings=percents.setting(axis) if axis else {},
    )


def alt_text(over: OverTime, measure: MeasureNow) -> str:
    """Return the alternative text: kind, periods, last value, signals."""
    last = _value(float(over.points["rate"].iloc[-1]) * (100 if _is_share(over) else 1), over)
    return (
        f"{measure['title']}: {_AXIS[over.period_kind]}, {len(over.points)} points; the last "
        f"{last}; {of_numbers.number_of(len(over.signals), 'signal')}."
    )
