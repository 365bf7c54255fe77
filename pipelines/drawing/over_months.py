"""Charts over time: a frame and what the measure is in, an ``alt.LayerChart`` out.

The grammar of every time series: dots joined by a thin line are months, open where few newborns
count; the pale area is what chance allows about the thin centre line; short dashes are the
target; a diamond lies outside the limits, a triangle is where a rule about several months first
spoke; a vertical rule is a recorded change, a date of policy or what was said of a signal, and
limits begin anew at a date of policy or an accepted level alone; the strip beneath is the share
not documented on the same months. The axis is fitted to the months.
"""

from typing import Any, Final

import altair as alt
import pandas as pd

from pipelines.drawing import percents, signals
from pipelines.drawing.layers import (
    ISO,
    LANE_PX,
    TICK_MONTHS,
    above_strip,
    as_channel,
    chance,
    day,
    iso,
    room_beside,
    tips,
    x2_px,
    x_px,
    y2_px,
)
from pipelines.drawing.percents import Fitted, fitted
from pipelines.drawing.theme import CHART_HEIGHT_PX, HALO, LIGHT, SHAPES
from pipelines.reading.frames import MeasureNow
from pipelines.reading.small_numbers import SMALL
from pipelines.statistics.over_time import OverTime
from pipelines.words import of_measures, of_numbers, of_states

RIGHT_PX: Final = 80  # right of the last month, for its value and the target's label
HALF_MONTH: Final = pd.Timedelta(days=15)
EDGE_PX: Final = 14  # above the plot, for what stands on its upper edge
LATEST: Final = 3  # months whose interval the axis holds as well
CLEAR_PX: Final = 9  # from the target's line to the middle of a value beside it
BAR_ROOM: Final = 1.6  # a bar of the strip with its gap, in bars
POINTED: Final = "pointed"  # setting of a chart: the month that is pointed at, set by values.js
TOLD: Final = ("Month", "n of N", "Percent", "Interval", "Limits", "Signal", "Not documented")


def _points(series: pd.DataFrame, breaks: pd.Series, over: OverTime) -> pd.DataFrame:
    """Return the columns a chart draws, percentages for shares, months as ISO text.

    ``segment`` numbers the stretches of the line: it breaks at a date of policy and at a
    month without a rate. centre, low and high are the limits where the chart has them by month.
    """
    points = pd.DataFrame({"month": series["month"].dt.strftime(ISO)})
    for name in ("rate", "lower", "upper", "target"):
        points[name] = (series[name] * 100).round(1)
    points["undocumented"] = (series["undocumented_share"] * 100).round(1)
    points["counted"] = series["counted"]
    starts = breaks.dt.to_period("M").dt.to_timestamp()
    passed = sum(((series["month"] >= start).astype(int) for start in starts), start=0)
    points["segment"] = series["rate"].isna().cumsum() + passed
    points["Month"] = series["month"].dt.strftime("%b %y")
    points["n of N"] = of_numbers.fractions(series)
    points["Percent"] = [of_numbers.percent(rate) for rate in series["rate"]]
    points["Interval"] = of_numbers.intervals(series)
    points["Not documented"] = [of_numbers.count(one) for one in series["not_documented"]]
    return points.join(_limits(series, over).set_index(points.index))


def _limits(series: pd.DataFrame, over: OverTime) -> pd.DataFrame:
    """Return centre, low, high and before (percent), phase, Limits and Signal (words) by month."""
    names = ["centre", "low", "high", "before", "phase", "rules"]
    if over.period_kind == "month" and len(over.points):
        own = over.points.set_index("start_on").reindex(series["month"])
        own = own.rename(
            columns={"lower_limit": "low", "upper_limit": "high", "earlier_centre": "before"}
        )[names]
    else:
        own = pd.DataFrame(columns=names, index=series["month"])
    found = pd.DataFrame(index=range(len(series)))
    for name in ("centre", "low", "high", "before"):
        found[name] = (own[name].astype(float) * 100).round(1).to_numpy()
    # A month without limits has no phase; NaN is no JSON.
    found["phase"] = own["phase"].astype(object).where(own["phase"].notna(), None).to_numpy()
    found["Limits"] = [
        of_numbers.interval(low, high)
        for low, high in zip(own["low"].astype(float), own["high"].astype(float), strict=True)
    ]
    spoken = [one if isinstance(one, tuple) else () for one in own["rules"]]
    found["Signal"] = ["; ".join(of_states.RULE_WORDS[name] for name in one) for one in spoken]
    return found


def months_axis(months: pd.Series, field: str = "month") -> alt.X:
    """Return the axis of months; names every quarter, the last month's always among them.

    It ends a fixed way before the right edge: the words there are as wide on a phone.
    """
    ends = [day(months.iloc[0] - HALF_MONTH), day(months.iloc[-1] + HALF_MONTH)]
    named = [day(month) for month in months.iloc[::-TICK_MONTHS]]
    axis = alt.Axis(values=named, format="%b %y", title=None, labelOverlap=True)
    span: list[Any] = [0, alt.ExprRef(f"width - {RIGHT_PX}")]
    return alt.X(f"{field}:T", scale=alt.Scale(domain=ends, range=span, nice=False), axis=axis)


def _axis(points: pd.DataFrame) -> Fitted:
    """Return the axis that holds the months, target and centre, and of what chance allows most."""
    held = points[["rate", "target", "centre", "before"]].to_numpy(float).ravel()
    latest = points.tail(LATEST)
    reached = [*points["low"], *points["high"], *latest["lower"], *latest["upper"]]
    return fitted(held, reached)


def _chance(base: alt.Chart, points: pd.DataFrame) -> list[alt.Chart]:
    """Return what chance allows, and the limits from before an accepted level.

    Their centre runs on dotted.
    """
    marks = chance(base, points)
    if points["before"].notna().any():
        earlier = base.transform_filter("isValid(datum.before)").mark_line(
            strokeWidth=0.9, strokeDash=[1, 3], color=LIGHT["unknown"], interpolate="step"
        )
        marks.append(earlier.encode(y=alt.Y("before:Q")))
    return marks


def _dots(base: alt.Chart, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Return the line, the interval that shows on hover, and the dots, which set the axes."""
    known = base.transform_filter("isValid(datum.rate)")
    line = known.mark_line(strokeWidth=1.2, color=LIGHT["data"]).encode(
        y=alt.Y("rate:Q"), detail=alt.Detail("segment:N")
    )
    pointed_at = {"test": f"datum.Month === {POINTED}", "value": 1}
    shown = alt.OpacityValue(0, condition=[pointed_at])
    interval = known.mark_rule(strokeWidth=5, strokeCap="round", color=LIGHT["data"]).encode(
        y=alt.Y("lower:Q"), y2=alt.Y2("upper"), opacity=shown
    )
    fill = alt.condition(
        f"datum.counted < {SMALL}", alt.value(LIGHT["paper"]), alt.value(LIGHT["data"])
    )
    dots = known.mark_point(
        shape=SHAPES["value"], size=34, strokeWidth=1.3, stroke=LIGHT["data"], opacity=1
    ).encode(x=x, y=y, fill=as_channel(alt.FillValue, fill), tooltip=tips(*TOLD))
    return [line, interval, dots.properties(name="months")]


def _target(base: alt.Chart, points: pd.DataFrame) -> list[alt.Chart]:
    """Return the target's short dashes, to the right edge, and its label there."""
    last = points.iloc[-1]
    target = last["target"]
    if pd.isna(target):
        return []
    is_under = _is_under(last)
    dashes: dict[str, Any] = {"strokeDash": [3, 3], "strokeWidth": 1.4, "color": LIGHT["ink"]}
    known = base.transform_filter("isValid(datum.target)")
    line = known.mark_line(interpolate="step-after", **dashes)
    at = alt.Chart(pd.DataFrame([last[["month", "target"]]]))
    tail = at.mark_rule(**dashes)
    label = at.mark_text(
        align="right", baseline="top" if is_under else "bottom", dy=4 if is_under else -4
    )
    words = alt.TextValue(f"target {of_numbers.percent(target / 100)}")
    x, y, edge = alt.X("month:T"), alt.Y("target:Q"), x_px("width")
    return [
        line.encode(y=y),
        tail.encode(x=x, x2=x2_px("width"), y=y),
        label.encode(x=edge, y=y, text=words),
    ]


def _is_under(last: "pd.Series[Any]") -> bool:
    """Say whether the target's label stands under its line: where the last month does not."""
    return bool(pd.isna(last["rate"]) or last["rate"] >= last["target"])


def _last_value(points: pd.DataFrame) -> list[alt.Chart]:
    """Return the value of the page's month beside its dot, clear of the target's line."""
    last = points.iloc[-1]
    if pd.isna(last["rate"]):
        return []
    aside: dict[str, Any] = {}
    if not pd.isna(last["target"]):
        # How far it lies below the target, in px: the axis may be drawn in two ways.
        below = f"(scale('y', datum.rate) - scale('y', {last['target']}))"
        away = (
            f"min(0, -{CLEAR_PX} - {below})" if _is_under(last) else f"max(0, {CLEAR_PX} - {below})"
        )
        aside = {"dy": alt.ExprRef(away)}
    at = alt.Chart(pd.DataFrame([last[["month", "rate"]]]))
    look = {"align": "left", "baseline": "middle", "dx": 11, "fontWeight": "bold", **aside}
    words = alt.TextValue(of_numbers.percent(last["rate"] / 100))
    return [
        one.encode(x=alt.X("month:T"), y=alt.Y("rate:Q"), text=words)
        for one in (at.mark_text(**look, **HALO), at.mark_text(**look))
    ]


def _changes(changes: pd.DataFrame, series: pd.DataFrame, floor: float) -> list[alt.Chart]:
    """Return a vertical rule and a line of text for each change within the months shown."""
    if changes.empty:
        return []
    first, last = series["month"].iloc[0], series["month"].iloc[-1] + pd.DateOffset(months=1)
    middle = first + (last - first) / 2
    lanes = [lane * LANE_PX for lane in range(len(changes))]
    at = pd.DataFrame({"start": [iso(one) for one in changes["start_on"]], "top": lanes})
    at["words"] = [str(words) for words in changes["words"]]
    at["is_right"] = (changes["start_on"] > middle).to_numpy()
    top = alt.Y("top:Q", scale=None, axis=None)
    rule = alt.Chart(at[["start", "top"]]).mark_rule(strokeWidth=1, color=LIGHT["quiet"])
    marks = [rule.encode(x=alt.X("start:T"), y=top, y2=y2_px(floor))]
    for is_right, rows in at.groupby("is_right"):
        text = alt.Chart(rows[["start", "top", "words"]]).mark_text(
            align="right" if is_right else "left",
            baseline="top",
            dx=-5 if is_right else 5,
            limit=room_beside(bool(is_right), "datum.start"),
            color=LIGHT["quiet"],
        )
        marks.append(text.encode(x=alt.X("start:T"), y=top, text=alt.Text("words:N")))
    return marks


def over_months(
    series: pd.DataFrame, measure: MeasureNow, changes: pd.DataFrame, over: OverTime
) -> alt.LayerChart:
    """Chart one measure over its months; the last row is the month of the page.

    ``series``: month, rate, lower, upper, target (shares of 1), counted, numerator,
    not_documented, undocumented_share, in order of month. ``measure``: title, direction,
    moved, change, target_state. ``changes``: start_on, words, kind. ``over``: the judged
    history; its limits and signals are drawn where it goes by months. The chart is as wide as
    its container and carries its alternative text as ``description``.
    """
    shown = changes[
        (changes["start_on"] >= series["month"].iloc[0])
        & (changes["start_on"] < series["month"].iloc[-1] + pd.DateOffset(months=1))
    ]
    series = series.reset_index(drop=True)
    points = _points(series, shown.loc[shown["kind"] == "policy", "start_on"], over)
    found = _spoken(points, over)
    lane = LANE_PX * len(shown)
    top = EDGE_PX + lane + signals.lanes(found)
    floor = top + CHART_HEIGHT_PX
    x, axis = months_axis(series["month"]), _axis(points)
    base = alt.Chart().encode(x=alt.X("month:T"))
    middle = points["month"].iloc[len(points) // 2]
    marks = [
        *_chance(base, points),
        *_changes(shown, series, floor),
        *_target(base, points),
        *_dots(base, x, percents.up("rate", axis, (floor, top))),
        *signals.lane(found, "month:T", "rate:Q", lane, middle),
        *signals.marks(found, "month:T", "rate:Q"),
        *_last_value(points),
        *percents.sign(axis, floor),
    ]
    return above_strip(
        marks,
        points,
        alt.X("month:T"),
        floor,
        slots=len(points) * BAR_ROOM,
        right=RIGHT_PX,
        description=of_measures.alt_text(series, measure),
        told=TOLD,
        settings={POINTED: None, **percents.setting(axis)},
    )


def _spoken(points: pd.DataFrame, over: OverTime) -> pd.DataFrame:
    """Return the marks of the signals, where the history goes by months."""
    values = {}
    if over.period_kind == "month":
        values = dict(zip(points["month"], points["rate"], strict=True))
    return signals.spoken(over, values, lambda row: _month(row["start_on"]))


def _month(start: pd.Timestamp | None) -> str:
    return "" if start is None or pd.isna(start) else iso(start)
