"""The chart of a measure that is too rare for months: quarters, blocks of births, or gaps.

A judged history in, an ``alt.LayerChart`` out; the grammar is that of ``charts.py``.
"""

from typing import Final

import altair as alt
import pandas as pd

from pipelines.drawing.layers import chance, whole
from pipelines.drawing.over_months import SENSE_COLOUR
from pipelines.drawing.theme import CHART_HEIGHT_PX, LIGHT
from pipelines.reading.frames import MeasureNow
from pipelines.statistics import rules
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
        points["Newborns"] = of_numbers.fractions(pairs)
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


def _y(field: str, over: OverTime) -> alt.Y:
    if _is_share(over):
        return alt.Y(
            f"{field}:Q",
            scale=alt.Scale(domain=[0, 100], nice=False),
            axis=alt.Axis(values=[0, 25, 50, 75, 100], labelExpr="datum.value + ' %'", title=None),
        )
    title = _BETWEEN.get(over.chart_kind, "newborns between")
    return alt.Y(f"{field}:Q", scale=alt.Scale(zero=True), axis=alt.Axis(title=title, tickCount=5))


def over_periods(over: OverTime, measure: MeasureNow) -> alt.LayerChart:
    """Chart one measure over its quarters, blocks or gaps. Needs two periods or more."""
    points = _points(over)
    every = max(1, -(-len(points) // _NAMED))
    x = alt.X(
        "period:Q",
        scale=alt.Scale(domain=[0.5, len(points) + 0.5], nice=False),
        axis=alt.Axis(
            values=[int(one) for one in points["period"][::every]],
            format="d",
            title=_AXIS[over.period_kind],
        ),
    )
    base = alt.Chart().encode(x=alt.X("period:Q"))
    marks = chance(base, points)
    told = [name for name in ("Period", "Newborns", "Value", "Signal") if name in points]
    dots = base.mark_point(size=34, filled=True, opacity=1, color=LIGHT["data"])
    marks += [
        base.mark_line(strokeWidth=1.2, color=LIGHT["data"]).encode(y=alt.Y("value:Q")),
        dots.encode(x=x, y=_y("value", over), tooltip=[alt.Tooltip(f"{name}:N") for name in told]),
        *_signals(points, over),
    ]
    return whole(marks, CHART_HEIGHT_PX, alt_text(over, measure), data=points)


def _signals(points: pd.DataFrame, over: OverTime) -> list[alt.Chart]:
    values = points.set_index("period")["value"]
    marks = []
    for sense, rows in over.signals.groupby("sense"):
        at = pd.DataFrame({"period": rows["period"], "value": rows["period"].map(values)})
        is_outside = rows["rule"].eq(rules.OUTSIDE).any()
        mark = alt.Chart(at).mark_point(
            shape="diamond" if is_outside else "triangle-up",
            size=110,
            filled=True,
            opacity=1,
            color=LIGHT[SENSE_COLOUR.get(str(sense), "data")],
        )
        marks.append(mark.encode(x=alt.X("period:Q"), y=alt.Y("value:Q")))
    return marks


def alt_text(over: OverTime, measure: MeasureNow) -> str:
    """Return the alternative text: kind, periods, last value, signals."""
    last = _value(float(over.points["rate"].iloc[-1]) * (100 if _is_share(over) else 1), over)
    return (
        f"{measure['title']}: {_AXIS[over.period_kind]}, {len(over.points)} points; the last "
        f"{last}; {of_numbers.number_of(len(over.signals), 'signal')}."
    )
