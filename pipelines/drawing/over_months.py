"""Charts over time: a frame and what the measure is in, an ``alt.LayerChart`` out.

The grammar of every time series: dots joined by a thin line are months, open where few newborns
count; the pale area is what chance allows about the thin centre line; short dashes are the target;
a diamond lies outside the limits, a triangle is where a rule about several months first spoke,
each with its words; a vertical rule is a recorded change, a date of policy or what was said of a
signal, and limits begin anew at a date of policy or an accepted level alone; the strip beneath is
the share not documented on the same months.
"""

from typing import Any, Final

import altair as alt
import pandas as pd

from pipelines.drawing.layers import (
    ISO,
    LANE_PX,
    TICK_MONTHS,
    above_strip,
    as_channel,
    chance,
    day,
    iso,
    tips,
    y2_px,
)
from pipelines.drawing.theme import CHART_HEIGHT_PX, LIGHT
from pipelines.reading.frames import MeasureNow
from pipelines.reading.small_numbers import SMALL
from pipelines.statistics import rules
from pipelines.statistics.over_time import OverTime
from pipelines.words import of_measures, of_numbers, of_states

RIGHT_SHARE: Final = 0.2  # room right of the last month for its value and the target's label
NEAR: Final = 9.0  # percentage points within which two labels would touch
LABELLED: Final = 1  # signals whose words stand in the picture; the others tell on hover
BESIDE_PX: Final = 15  # from a mark to its words
CLEAR_PX: Final = 33  # the same where the target's label lies between
LOW: Final = 14  # percent beneath which words stand above their mark
BAR_ROOM: Final = 1.6  # a bar of the strip with its gap, in bars
SENSE_COLOUR: Final = {"better": "good", "worse": "attention"}


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
    points["Newborns"] = of_numbers.fractions(series)
    points["Percent"] = [of_numbers.percent(rate) for rate in series["rate"]]
    points["Interval"] = of_numbers.intervals(series)
    points["Not documented"] = series["not_documented"]
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


def _x_domain(series: pd.DataFrame) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return the first and last day of the axis, with room for the labels at the right."""
    first, last = series["month"].iloc[0], series["month"].iloc[-1]
    span = max(last - first, pd.Timedelta(days=180))
    return first - pd.Timedelta(days=15), (last + span * RIGHT_SHARE).normalize()


def _x(series: pd.DataFrame) -> alt.X:
    """Return the axis of months; names every quarter, the last month's always among them."""
    start, end = _x_domain(series)
    named = series["month"].iloc[::-TICK_MONTHS]
    axis = alt.Axis(
        values=[day(month) for month in named], format="%b %y", title=None, labelOverlap=True
    )
    return alt.X("month:T", scale=alt.Scale(domain=[day(start), day(end)], nice=False), axis=axis)


def _percent(field: str, top: float) -> alt.Y:
    """Return the 0 to 100 % axis of the plot, which begins ``top`` px below the chart's edge."""
    return alt.Y(
        f"{field}:Q",
        scale=alt.Scale(domain=[0, 100], range=[top + CHART_HEIGHT_PX, top], nice=False),
        axis=alt.Axis(
            values=[0, 25, 50, 75, 100], labelExpr="datum.value + ' %'", title=None, orient="left"
        ),
    )


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


def _dots(base: alt.Chart, x: alt.X, top: float) -> list[alt.Chart]:
    """Return the line, the interval that shows on hover, and the dots, which set the axes."""
    hover = alt.selection_point(
        name="month",
        on="pointerover",
        clear="pointerout",
        nearest=True,
        encodings=["x"],
        empty=False,
    )
    known = base.transform_filter("isValid(datum.rate)")
    line = known.mark_line(strokeWidth=1.2, color=LIGHT["data"]).encode(
        y=alt.Y("rate:Q"), detail=alt.Detail("segment:N")
    )
    pointed_at = {"param": hover.name, "value": 1, "empty": False}
    shown = alt.OpacityValue(0, condition=[pointed_at])
    interval = known.mark_rule(strokeWidth=5, strokeCap="round", color=LIGHT["data"]).encode(
        y=alt.Y("lower:Q"), y2=alt.Y2("upper"), opacity=shown
    )
    fill = alt.condition(
        f"datum.counted < {SMALL}", alt.value(LIGHT["paper"]), alt.value(LIGHT["data"])
    )
    names = ["Month", "Newborns", "Percent", "Interval", "Limits", "Signal", "Not documented"]
    told = [f"{name}:N" for name in names]
    dots = known.mark_point(size=34, strokeWidth=1.3, stroke=LIGHT["data"], opacity=1).encode(
        x=x, y=_percent("rate", top), fill=as_channel(alt.FillValue, fill), tooltip=tips(*told)
    )
    # A name of its own: without one the library hashes the whole frame to find one.
    return [line, interval, dots.properties(name="months").add_params(hover)]


def _target(base: alt.Chart, points: pd.DataFrame, end: str) -> list[alt.Chart]:
    """Return the target's short dashes, to the right edge, and its label there."""
    last = points.iloc[-1]
    target = last["target"]
    if pd.isna(target):
        return []
    rate = target if pd.isna(last["rate"]) else last["rate"]
    is_under = rate >= target > 12 or target > 90
    dashes: dict[str, Any] = {"strokeDash": [3, 3], "strokeWidth": 1.4, "color": LIGHT["ink"]}
    known = base.transform_filter("isValid(datum.target)")
    line = known.mark_line(interpolate="step-after", **dashes)
    to_end = pd.DataFrame({"month": [last["month"], end], "target": [target, target]})
    tail = alt.Chart(to_end).mark_line(**dashes)
    label = alt.Chart(to_end.tail(1)).mark_text(
        align="right", baseline="top" if is_under else "bottom", dy=4 if is_under else -4
    )
    words = alt.TextValue(f"target {of_numbers.percent(target / 100)}")
    x, y = alt.X("month:T"), alt.Y("target:Q")
    return [line.encode(y=y), tail.encode(x=x, y=y), label.encode(x=x, y=y, text=words)]


def _last_value(points: pd.DataFrame) -> list[alt.Chart]:
    """Return the value of the page's month beside its dot."""
    last = points.iloc[-1]
    if pd.isna(last["rate"]):
        return []
    near = not pd.isna(last["target"]) and abs(last["rate"] - last["target"]) < NEAR
    side = 0 if not near else (-9 if last["rate"] >= last["target"] else 9)
    value = alt.Chart(pd.DataFrame([last[["month", "rate"]]])).mark_text(
        align="left", dx=9, dy=side, fontWeight="bold"
    )
    words = alt.TextValue(of_numbers.percent(last["rate"] / 100))
    return [value.encode(x=alt.X("month:T"), y=alt.Y("rate:Q"), text=words)]


def _spoken(points: pd.DataFrame, over: OverTime) -> pd.DataFrame:
    """Return one row per mark of a signal: month, rate, sense, shape, words, rise (px), is_late.

    A diamond for each month outside limits; a triangle where a rule about several months first
    spoke. Of the marks of one rule and direction only the last runs its words.
    """
    rows = over.signals
    if over.period_kind != "month" or rows.empty:
        return pd.DataFrame()
    by_month = points.set_index("month")["rate"]
    found = pd.DataFrame({"month": rows["start_on"].map(iso), "sense": rows["sense"]})
    found["rate"] = found["month"].map(by_month)
    found["is_up"] = rows["direction"] != "down"
    found["shape"] = "diamond"
    is_run = rows["rule"] != rules.OUTSIDE
    found.loc[is_run, "shape"] = found["is_up"].map({True: "triangle-up", False: "triangle-down"})
    found["words"] = rows["rule"].map(of_states.SHORT_RULE) + found["is_up"].map(
        {True: ", up", False: ", down"}
    )
    found = found[found["rate"].notna()].reset_index(drop=True)
    is_last = ~found.duplicated(["words"], keep="last")
    found["words"] = found["words"].where(is_last & (is_last[::-1].cumsum() <= LABELLED), "")
    middle = points["month"].iloc[len(points) // 2]
    is_above = found["is_up"] & (found["rate"] < 100 - LOW) | (found["rate"] < LOW)
    # Words near the target's label stand clear of it.
    target = points["target"].iloc[-1]
    lift = (found["rate"] - target).abs().lt(2 * NEAR).map({True: CLEAR_PX, False: BESIDE_PX})
    rise = lift.where(~is_above, -lift)
    return found.assign(is_late=found["month"] > middle, rise=rise)


def _signals(points: pd.DataFrame, over: OverTime) -> list[alt.Chart]:
    """Return the marks of the signals and the words beside the latest of each kind."""
    found = _spoken(points, over)
    marks = []
    for keys, group in found.groupby(["sense", "shape"]) if len(found) else []:
        sense, shape = keys
        mark = alt.Chart(group[["month", "rate"]]).mark_point(
            shape=str(shape),
            size=110,
            filled=True,
            opacity=1,
            color=LIGHT[SENSE_COLOUR.get(str(sense), "data")],
        )
        marks.append(mark.encode(x=alt.X("month:T"), y=alt.Y("rate:Q")))
    told = found[found["words"] != ""] if len(found) else found
    for is_late, group in told.groupby("is_late") if len(told) else []:
        # Below the dot where the move is down, so that the words do not cross the line.
        for rise, rows in group.groupby("rise"):
            text = alt.Chart(rows[["month", "rate", "words"]]).mark_text(
                align="right" if is_late else "left", dy=float(str(rise))
            )
            marks.append(
                text.encode(x=alt.X("month:T"), y=alt.Y("rate:Q"), text=alt.Text("words:N"))
            )
    return marks


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
            limit=alt.ExprRef("width * 0.55"),
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
    top = 10 + LANE_PX * len(shown)
    floor = top + CHART_HEIGHT_PX
    x, end = _x(series), _x_domain(series)[1]
    base = alt.Chart().encode(x=alt.X("month:T"))
    marks = [
        *_chance(base, points),
        *_changes(shown, series, floor),
        *_target(base, points, iso(end)),
        *_dots(base, x, top),
        *_signals(points, over),
        *_last_value(points),
    ]
    return above_strip(
        marks,
        points,
        alt.X("month:T"),
        floor,
        slots=len(points) * (1 + RIGHT_SHARE) * BAR_ROOM,
        description=of_measures.alt_text(series, measure),
    )
