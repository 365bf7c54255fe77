"""Charts: a frame and what the measure is in, an ``alt.LayerChart`` out. No SQL, no files.

The grammar of every time series: dots joined by a thin line are months; open dots are months
with few newborns; short dashes are the target; a vertical rule is a recorded change or a date
of policy; the strip beneath is the share not documented on the same months.
"""

from typing import Final, cast

import altair as alt
import pandas as pd

from pipelines import wording
from pipelines.standing import SMALL
from pipelines.theme import CHART_HEIGHT_PX, LIGHT, STRIP_GAP_PX, STRIP_HEIGHT_PX

LANE_PX: Final = 17  # one line of text above the plot for each change
RIGHT_SHARE: Final = 0.13  # room right of the last month for its value and the target's label
NEAR: Final = 9.0  # percentage points within which two labels would touch
TICK_MONTHS: Final = 3  # a month's name every quarter, counted back from the last month


def _points(series: pd.DataFrame, breaks: pd.Series) -> pd.DataFrame:
    """Return the columns a chart draws, percentages for shares, months as ISO text.

    ``segment`` numbers the stretches of the line: it breaks at a date of policy and at a
    month without a rate.
    """
    points = pd.DataFrame({"month": series["month"].dt.strftime("%Y-%m-%dT00:00:00")})
    for name in ("rate", "lower", "upper", "target"):
        points[name] = (series[name] * 100).round(1)
    points["undocumented"] = (series["undocumented_share"] * 100).round(1)
    points["counted"] = series["counted"]
    starts = breaks.dt.to_period("M").dt.to_timestamp()
    passed = sum(((series["month"] >= start).astype(int) for start in starts), start=0)
    points["segment"] = series["rate"].isna().cumsum() + passed
    points["Month"] = series["month"].dt.strftime("%b %y")
    points["Newborns"] = wording.fractions(series)
    points["Percent"] = [wording.percent(rate) for rate in series["rate"]]
    points["Interval"] = wording.intervals(series)
    points["Not documented"] = series["not_documented"]
    return points


def _iso(moment: pd.Timestamp) -> str:
    """Write a date so that the browser reads it in its own time zone, as the axis does."""
    return f"{moment:%Y-%m-%dT00:00:00}"


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
        values=[_day(month) for month in named], format="%b %y", title=None, labelOverlap=True
    )
    return alt.X("month:T", scale=alt.Scale(domain=[_day(start), _day(end)], nice=False), axis=axis)


def _day(moment: pd.Timestamp) -> alt.DateTime:
    return alt.DateTime(year=moment.year, month=moment.month, date=moment.day)


def _percent(field: str, top: float) -> alt.Y:
    """Return the 0 to 100 % axis of the plot, which begins ``top`` px below the chart's edge."""
    return alt.Y(
        f"{field}:Q",
        scale=alt.Scale(domain=[0, 100], range=[top + CHART_HEIGHT_PX, top], nice=False),
        axis=alt.Axis(
            values=[0, 25, 50, 75, 100], labelExpr="datum.value + ' %'", title=None, orient="left"
        ),
    )


def _dots(base: alt.Chart, top: float) -> list[alt.Chart]:
    """Return the line, the interval that shows on hover, and the dots."""
    hover = alt.selection_point(
        name="month",
        on="pointerover",
        clear="pointerout",
        nearest=True,
        encodings=["x"],
        empty=False,
    )
    known = base.transform_filter("isValid(datum.rate)")
    y = _percent("rate", top)
    line = known.mark_line(strokeWidth=1.2, color=LIGHT["data"]).encode(y=y, detail="segment:N")
    shown = alt.when(hover).then(alt.value(1)).otherwise(alt.value(0))
    interval = known.mark_rule(strokeWidth=5, strokeCap="round", color=LIGHT["data"]).encode(
        y=_percent("lower", top), y2="upper:Q", opacity=shown
    )
    fill = alt.condition(
        f"datum.counted < {SMALL}", alt.value(LIGHT["paper"]), alt.value(LIGHT["data"])
    )
    dots = known.mark_point(size=34, strokeWidth=1.3, stroke=LIGHT["data"], opacity=1).encode(
        y=y,
        fill=fill,
        tooltip=["Month:N", "Newborns:N", "Percent:N", "Interval:N", "Not documented:Q"],
    )
    return [line, interval, dots.add_params(hover)]


def _target(base: alt.Chart, top: float, end: str, last: pd.Series) -> list[alt.Chart]:
    """Return the target's short dashes and its label at the right end."""
    target = last["target"]
    if pd.isna(target):
        return []
    rate = target if pd.isna(last["rate"]) else last["rate"]
    is_under = rate >= target > 12 or target > 90
    dashes = base.transform_filter("isValid(datum.target)").mark_line(
        interpolate="step-after", strokeDash=[3, 3], strokeWidth=1.4, color=LIGHT["ink"]
    )
    to_end = pd.DataFrame({"month": [last["month"], end], "target": [target, target]})
    tail = alt.Chart(to_end).mark_line(strokeDash=[3, 3], strokeWidth=1.4, color=LIGHT["ink"])
    label = alt.Chart(to_end.tail(1)).mark_text(
        align="right", baseline="top" if is_under else "bottom", dy=4 if is_under else -4
    )
    words = alt.value(f"target {wording.percent(target / 100)}")
    x, at = alt.X("month:T"), _percent("target", top)
    return [
        dashes.encode(y=at),
        tail.encode(x=x, y=at),
        label.encode(x=x, y=at, text=words),
    ]


def _last_value(top: float, last: pd.Series, measure: wording.Row) -> list[alt.Chart]:
    """Return the value of the page's month beside its dot, and its signal where there is one."""
    if pd.isna(last["rate"]):
        return []
    one, y = pd.DataFrame([last[["month", "rate"]]]), _percent("rate", top)
    near = not pd.isna(last["target"]) and abs(last["rate"] - last["target"]) < NEAR
    side = 0 if not near else (-9 if last["rate"] >= last["target"] else 9)
    value = alt.Chart(one).mark_text(align="left", dx=9, dy=side, fontWeight="bold")
    marks = [value.encode(x="month:T", y=y, text=alt.value(wording.percent(last["rate"] / 100)))]
    change = str(measure["change"])
    if change in {"better", "worse", "moved"}:
        is_up = measure["moved"] == "higher"
        colour = {"better": LIGHT["good"], "worse": LIGHT["attention"]}.get(change, LIGHT["data"])
        shape = alt.Chart(one).mark_point(
            shape="triangle-up" if is_up else "triangle-down",
            size=150,
            filled=True,
            opacity=1,
            color=colour,
        )
        label = alt.Chart(one).mark_text(align="right", dx=-2, dy=-15 if is_up else 17)
        words = alt.value(f"{measure['moved']} than before")
        marks += [shape.encode(x="month:T", y=y), label.encode(x="month:T", y=y, text=words)]
    return marks


def _changes(changes: pd.DataFrame, series: pd.DataFrame, floor: float) -> list[alt.Chart]:
    """Return a vertical rule and a line of text for each change within the months shown."""
    first, last = series["month"].iloc[0], series["month"].iloc[-1] + pd.DateOffset(months=1)
    middle = first + (last - first) / 2
    marks = []
    for lane, change in enumerate(changes.to_dict("records")):
        at = pd.DataFrame({"start": [_iso(change["start_on"])]})
        is_right = change["start_on"] > middle
        top = lane * LANE_PX
        rule = alt.Chart(at).mark_rule(strokeWidth=1, color=LIGHT["quiet"])
        text = alt.Chart(at).mark_text(
            align="right" if is_right else "left",
            baseline="top",
            dx=-5 if is_right else 5,
            limit=300,
            color=LIGHT["quiet"],
        )
        marks += [
            rule.encode(x="start:T", y=alt.value(top), y2=alt.value(floor)),
            text.encode(x="start:T", y=alt.value(top), text=alt.value(str(change["words"]))),
        ]
    return marks


def _strip(points: pd.DataFrame, x: alt.X, top: float) -> alt.LayerChart:
    """Return the strip of the share not documented, drawn between ``top`` and the floor."""
    highest = max(20.0, -(-float(points["undocumented"].fillna(0).max()) // 10) * 10)
    y_scale = alt.Scale(domain=[0, highest], range=[top + STRIP_HEIGHT_PX, top], nice=False)
    axis = alt.Axis(
        values=[0, highest], labelExpr="datum.value + ' %'", title=None, grid=False, orient="left"
    )
    # The bars keep to a part of a month's width, however wide the chart is drawn.
    thick = alt.ExprRef(f"width / {len(points) * (1 + RIGHT_SHARE) * 1.6:.1f}")
    bar = (
        alt.Chart(points)
        .mark_bar(color=LIGHT["unknown"], size=thick)
        .encode(
            x=x,
            y=alt.Y("undocumented:Q", scale=y_scale, axis=axis),
            tooltip=["Month:N", "Not documented:Q"],
        )
    )
    label = alt.Chart(points.head(1)).mark_text(
        align="left", baseline="bottom", dy=-2, color=LIGHT["quiet"]
    )
    words = alt.value("share not documented")
    strip = alt.layer(bar, label.encode(x=alt.value(2), y=alt.value(top), text=words))
    return cast(alt.LayerChart, strip)


def over_months(
    series: pd.DataFrame, measure: wording.Row, changes: pd.DataFrame
) -> alt.LayerChart:
    """Chart one measure over its months; the last row is the month of the page.

    ``series``: month, rate, lower, upper, target (shares of 1), counted, numerator,
    not_documented, undocumented_share, in order of month. ``measure``: title, direction,
    moved, change, target_state. ``changes``: start_on, words, kind. The chart is as wide as
    its container and carries its alternative text as ``description``.
    """
    shown = changes[
        (changes["start_on"] >= series["month"].iloc[0])
        & (changes["start_on"] < series["month"].iloc[-1] + pd.DateOffset(months=1))
    ]
    points = _points(series, shown.loc[shown["kind"] == "policy", "start_on"])
    top = 10 + LANE_PX * len(shown)
    floor = top + CHART_HEIGHT_PX
    x, end = _x(series), _x_domain(series)[1]
    base = alt.Chart(points).encode(x=x)
    last = points.iloc[-1]
    marks = [
        *_changes(shown, series, floor),
        *_target(base, top, _iso(end), last),
        *_dots(base, top),
        *_last_value(top, last, measure),
    ]
    strip = _strip(points, x, floor + STRIP_GAP_PX)
    chart = alt.layer(alt.layer(*marks), strip).resolve_scale(y="independent")
    whole = chart.properties(
        width="container",
        height=floor + STRIP_GAP_PX + STRIP_HEIGHT_PX,
        description=wording.alt_text(series, measure),
    )
    return cast(alt.LayerChart, whole)
