"""The pictures of how long it took: rising step curves, and minutes over months."""

from typing import Any, Final

import altair as alt
import numpy as np
import pandas as pd

from pipelines.drawing.layers import ISO, as_channel, day, tips, whole, x2_px, x_px, y2_px, y_px
from pipelines.drawing.theme import CHART_HEIGHT_PX, HALO, LIGHT, SHAPES
from pipelines.pages.review.timing import words as timing_words
from pipelines.pages.review.timing.read import Group, Timed
from pipelines.reading.small_numbers import SMALL
from pipelines.statistics import survival
from pipelines.words import of_numbers

TOP_PX: Final = 30  # room for the words of the window
AXIS_PX: Final = 50
GROUP_PX: Final = 36  # two lines of numbers at risk
SAMPLE_PX: Final = 26
RIGHT_SHARE: Final = 0.04
NAME_SHARE: Final = 0.34  # room right of the last month for a line's name, on a phone
# Curve -> (dash, mark, filled): told apart without colour.
LOOKS: Final = (((1, 0), SHAPES["value"], True), ((5, 3), SHAPES["other"], False))

LINES: Final = {"median": (0, "half"), "p90": (1, "nine in ten")}  # field -> look, words


def _across(field: str, one: Timed, height: int) -> alt.X:
    """Return the axis of minutes, which stands under the plot and above the numbers at risk."""
    axis = alt.Axis(
        values=one.ticks,
        title="minutes after birth",
        offset=-(height - TOP_PX - CHART_HEIGHT_PX),
        titleAnchor="end",
        titlePadding=2,
    )
    domain = [0, one.end * (1 + RIGHT_SHARE)]
    return alt.X(f"{field}:Q", scale=alt.Scale(domain=domain, nice=False), axis=axis)


def _up(field: str) -> alt.Y:
    return alt.Y(
        f"{field}:Q",
        scale=alt.Scale(domain=[0, 100], range=[TOP_PX + CHART_HEIGHT_PX, TOP_PX], nice=False),
        axis=alt.Axis(values=[0, 25, 50, 75, 100], labelExpr="datum.value + ' %'", title=None),
    )


def _steps(group: Group, end: int) -> pd.DataFrame:
    """Return the corners of a rising curve from minute 0 to the end, in percent."""
    steps = group.curve.steps
    share = 100 * (1 - steps["survival"])
    low, high = (100 * (1 - steps[name]) for name in ("upper", "lower"))
    points = pd.DataFrame(
        {"minute": steps["time"], "share": share, "low": low, "high": high}
    ).astype(float)
    for name in ("low", "high"):
        points[name] = points[name].fillna(points["share"])
    nought = {"minute": 0.0, "share": 0.0, "low": 0.0, "high": 0.0}
    points = pd.concat([pd.DataFrame([nought]), points], ignore_index=True)
    last = points.iloc[[-1]].assign(minute=float(end))
    return pd.concat([points, last], ignore_index=True).round(2)


def _marks_at(group: Group, one: Timed) -> pd.DataFrame:
    """Return the share at every tick, with its words for whoever points at it."""
    rows = []
    for at, waiting in zip(one.ticks, survival.at_risk(group.times, one.ticks), strict=True):
        share, low, high = survival.reached(group.curve, at) or (0.0, 0.0, 0.0)
        rows.append(
            {
                "minute": at,
                "share": round(100 * share, 2),
                "Curve": timing_words.NAMES[group.name],
                "By minute": at,
                "On record": of_numbers.percent(share),
                "Interval": of_numbers.interval(low, high),
                "waiting": waiting,
                "Still waiting": of_numbers.count(waiting),
            }
        )
    return pd.DataFrame(rows)


def _curve(group: Group, place: int, one: Timed, height: int) -> list[alt.Chart]:
    dash, mark, filled = LOOKS[place]
    points = alt.Chart(_steps(group, one.end))
    x = _across("minute", one, height)
    range_ = points.mark_area(
        interpolate="step-after", color=LIGHT["data"], fillOpacity=0.14, strokeWidth=0
    ).encode(x=x, y=_up("low"), y2=alt.Y2("high:Q"))
    line = points.mark_line(
        interpolate="step-after", color=LIGHT["data"], strokeWidth=1.8, strokeDash=list(dash)
    ).encode(x=x, y=_up("share"))
    shown = alt.Chart(_marks_at(group, one)).mark_point(
        shape=mark,
        size=44,
        opacity=1,
        stroke=LIGHT["data"],
        fill=LIGHT["data"] if filled else LIGHT["paper"],
    )
    told = ["Curve", "By minute", "On record", "Interval", "Still waiting"]
    return [range_, line, shown.encode(x=x, y=_up("share"), tooltip=tips(*told))]


def _windows(one: Timed, height: int) -> list[alt.Chart]:
    """Return the window as a shaded band with its words; two where kinds of birth differ."""
    known = [group for group in one.groups if group.due is not None and group.due <= one.end]
    spans: dict[tuple[float, float], list[str]] = {}
    for group in known:
        spans.setdefault((group.opens, float(group.due or 0)), []).append(group.name)
    marks = []
    x = _across("start", one, height)
    for lane, ((start, due), names) in enumerate(spans.items()):
        words = f"window {timing_words.window_words(known[0])}"
        if len(spans) > 1:
            group = next(group for group in known if group.name == names[0])
            words = f"{names[0]}: window {timing_words.window_words(group)}"
        frame = pd.DataFrame({"start": [start], "due": [due]})
        band = alt.Chart(frame).mark_rect(fill=LIGHT["tint"], opacity=0.75)
        edge = alt.Chart(frame).mark_rule(color=LIGHT["quiet"], strokeWidth=1)
        is_right = due > 0.6 * one.end
        text = alt.Chart(frame).mark_text(
            align="right" if is_right else "left", baseline="top", dx=-4 if is_right else 4
        )
        top, floor = y_px(TOP_PX), y2_px(TOP_PX + CHART_HEIGHT_PX)
        at_due = _across("due", one, height)
        line = y_px(lane * 15)
        marks += [
            band.encode(x=x, x2=alt.X2("due:Q"), y=top, y2=floor),
            edge.encode(x=at_due, y=line, y2=floor),
            text.encode(x=at_due, y=line, text=alt.TextValue(words)),
        ]
    return marks


def _at_risk(group: Group, place: int, one: Timed, height: int) -> list[alt.Chart]:
    """Return the two lines of one curve beneath the axis: its look and name, its numbers."""
    dash, mark, filled = LOOKS[place]
    top = TOP_PX + CHART_HEIGHT_PX + AXIS_PX + GROUP_PX * place
    named = pd.DataFrame({"nothing": [0]})
    sample = alt.Chart(named).mark_rule(color=LIGHT["data"], strokeWidth=1.8, strokeDash=list(dash))
    point = alt.Chart(named).mark_point(
        shape=mark,
        size=44,
        opacity=1,
        stroke=LIGHT["data"],
        fill=LIGHT["data"] if filled else LIGHT["paper"],
    )
    label = alt.Chart(named).mark_text(align="left", baseline="middle", color=LIGHT["quiet"])
    numbers = alt.Chart(_marks_at(group, one)).mark_text(baseline="middle")
    words = f"{timing_words.NAMES[group.name]}, still waiting:"
    y = y_px(top)
    return [
        sample.encode(x=x_px(0), x2=x2_px(SAMPLE_PX), y=y),
        point.encode(x=x_px(SAMPLE_PX / 2), y=y),
        label.encode(x=x_px(SAMPLE_PX + 6), y=y, text=alt.TextValue(words)),
        numbers.encode(
            x=_across("minute", one, height), y=y_px(top + 15), text=alt.Text("Still waiting:N")
        ),
    ]


def curves(one: Timed) -> alt.LayerChart:
    """Chart one measure: the share on record by each minute, the window, the numbers at risk."""
    height = TOP_PX + CHART_HEIGHT_PX + AXIS_PX + GROUP_PX * len(one.groups) - 6
    marks = _windows(one, height)
    for place, group in enumerate(one.groups):
        marks += _curve(group, place, one, height)
    for place, group in enumerate(one.groups):
        marks += _at_risk(group, place, one, height)
    return whole(marks, height, timing_words.curve_text(one))


def _month_points(rows: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "month": rows["period_start"].dt.strftime(ISO),
            "median": rows["median_minutes"],
            "p90": rows["p90_minutes"],
            "measured": rows["measured"],
            "segment": rows["median_minutes"].isna().cumsum(),
            "Month": rows["period_start"].dt.strftime("%b %y"),
            "Timed": rows["measured"].map(of_numbers.count),
            "Not timed": rows["not_measured"].map(of_numbers.count),
            "Half at most": [timing_words.minute(one) for one in rows["median_minutes"]],
            "Nine in ten at most": [timing_words.minute(one) for one in rows["p90_minutes"]],
        }
    )


def _months_axis(rows: pd.DataFrame) -> alt.X:
    first, last = rows["period_start"].iloc[0], rows["period_start"].iloc[-1]
    span = max(last - first, pd.Timedelta(days=180))
    domain = [day(first - pd.Timedelta(days=15)), day((last + span * NAME_SHARE).normalize())]
    named = [day(one) for one in rows["period_start"].iloc[::-3]]
    axis = alt.Axis(values=named, format="%b %y", title=None, labelOverlap=True)
    return alt.X("month:T", scale=alt.Scale(domain=domain, nice=False), axis=axis)


def _line(points: pd.DataFrame, field: str, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Return one line of months with its marks, and its last value with its words."""
    place, words = LINES[field]
    dash, shape, _ = LOOKS[place]
    base = alt.Chart(points).transform_filter(f"isValid(datum.{field})").encode(x=x, y=y)
    fill = alt.condition(
        f"datum.measured < {SMALL}", alt.value(LIGHT["paper"]), alt.value(LIGHT["data"])
    )
    line = base.mark_line(strokeWidth=1.2, strokeDash=list(dash), color=LIGHT["data"])
    marks = base.mark_point(shape=shape, size=40, strokeWidth=1.3, stroke=LIGHT["data"], opacity=1)
    told = ["Month", "Half at most", "Nine in ten at most", "Timed", "Not timed"]
    last = alt.Chart(points[points[field].notna()].tail(1)).encode(x=x, y=y)
    look: dict[str, Any] = {"align": "left", "dx": 9}
    looks = {"value": {**look, "fontWeight": "bold"}, "label": {**look, "dy": 14}}
    number, name = alt.Text(f"{field}:Q", format=".1~f"), alt.TextValue(words)
    return [
        line.encode(detail=alt.Detail("segment:N")),
        marks.encode(fill=as_channel(alt.FillValue, fill), tooltip=tips(*told)),
        last.mark_text(**looks["value"], **HALO).encode(text=number),
        last.mark_text(**looks["value"]).encode(text=number),
        last.mark_text(**looks["label"], **HALO).encode(text=name),
        last.mark_text(**looks["label"], color=LIGHT["quiet"]).encode(text=name),
    ]


def over_months(title: str, rows: pd.DataFrame) -> alt.LayerChart:
    """Chart median and 90th centile of the minutes by month; open marks are small numbers.

    ``rows``: period_start, measured, not_measured, median_minutes, p90_minutes, in order.
    """
    points, x = _month_points(rows), _months_axis(rows)
    scale = alt.Scale(domain=[0, 1.15 * float(np.nanmax([*points["p90"], 1.0]))])
    axis = alt.Axis(title=None, tickCount=5, labelExpr="datum.label + ' min'")
    marks: list[alt.Chart] = []
    for field in LINES:
        marks += _line(points, field, x, alt.Y(f"{field}:Q", scale=scale, axis=axis))
    return whole(marks, CHART_HEIGHT_PX, description=timing_words.spread_text(title, rows))
