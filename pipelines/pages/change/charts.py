"""The pictures of a change study: frames and a study in, an ``alt.LayerChart`` out.

Dots joined by a thin line are months, a thick line is what is fitted, long dashes are the course
before carried on, with its range as a pale area; short dashes are the target. An upright rule is
a change. The strip beneath is the share not documented on the same months.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, cast

import altair as alt
import numpy as np
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing import by_rows, percents
from pipelines.drawing.by_rows import Rows
from pipelines.drawing.layers import (
    LANE_PX,
    TICK_MONTHS,
    above_strip,
    as_channel,
    day,
    iso,
    room_beside,
    tips,
    y2_px,
    y_px,
)
from pipelines.drawing.percents import Fitted, fitted
from pipelines.drawing.theme import CHART_HEIGHT_PX, HALO, LIGHT, SHAPES, SIGNAL_PX
from pipelines.pages.change import words as change_words
from pipelines.pages.change.frames import MarkRow
from pipelines.reading.before_after import AFTER, BEFORE, LEFT_OUT, Study
from pipelines.reading.small_numbers import SMALL
from pipelines.statistics import effects
from pipelines.statistics.effects import Span
from pipelines.words import of_numbers

MAIN_HEIGHT_PX: Final = 280  # of the measure the page is about
MARKS: Final = 0.6  # part of a month that a bar of the strip takes
TOLD: Final = ("Month", "n of N", "Percent", "Interval", "Phase")
WORDS_PX: Final = 17  # height of a line of words with its distance
WORDS_SHARE: Final = 2  # words reach over a part of the months on a phone: a half
COURSE: Final = "course before, carried on"


def months_axis(months: pd.Series, field: str = "month", rows: Rows | None = None) -> alt.X:
    """Return the axis of the months of a study."""
    first, last = months.iloc[0], months.iloc[-1]
    ends = [day(first - pd.Timedelta(days=15)), day(last + pd.Timedelta(days=20))]
    named = [day(month) for month in months.iloc[::-TICK_MONTHS]]
    axis = alt.Axis(values=named, format="%b %y", title=None, labelOverlap=True, labelSeparation=6)
    span: dict[str, Any] = {"range": by_rows.ends(rows)} if rows else {}
    return alt.X(f"{field}:T", scale=alt.Scale(domain=ends, nice=False, **span), axis=axis)


def points_frame(study: Study) -> pd.DataFrame:
    """Return what the picture draws: percentages by month, with the lines where there are any."""
    months = study.months
    drawn = pd.DataFrame({"month": [iso(one) for one in months["month"]]})
    drawn["phase"] = months["phase"]
    for name in ("rate", "target"):
        drawn[name] = (100 * months[name].astype(float)).round(2)
    drawn["undocumented"] = (100 * months["undocumented_share"].astype(float)).round(1)
    drawn["counted"] = months["counted"]
    drawn["stretch"] = months["phase"] + months["rate"].isna().cumsum().astype(str)
    drawn["Month"] = months["month"].dt.strftime("%b %y")
    drawn["n of N"] = of_numbers.fractions(months)
    drawn["Percent"] = [change_words.rate(rate) for rate in months["rate"]]
    drawn["Interval"] = of_numbers.intervals(months)
    drawn["Phase"] = drawn["phase"]
    lines = {"fitted": np.nan, "course": np.nan, "low": np.nan, "high": np.nan}
    drawn = drawn.assign(**lines)
    if study.fit is not None:
        found = effects.lines(study.fit, months["place"].to_numpy(float))
        both = (found.fitted, found.without_change, found.lower, found.upper)
        for name, values in zip(lines, both, strict=True):
            drawn[name] = np.round(100 * values, 2)
        drawn.loc[drawn["phase"] == LEFT_OUT, list(lines)] = np.nan
    return drawn


def axis_of(drawn: pd.DataFrame) -> Fitted:
    """Return the axis that holds the months, both lines and the target."""
    # The pale area may be cut off: a wide doubt must not flatten the months themselves.
    return fitted(drawn[["rate", "fitted", "course", "target"]].to_numpy(float).ravel())


@dataclass(frozen=True)
class Frame:
    """Where the plot stands, ``top`` and ``height`` in px, and its axis."""

    top: int
    height: int
    axis: Fitted


def _y(field: str, frame: Frame) -> alt.Y:
    return percents.up(field, frame.axis, (frame.top + frame.height, frame.top))


def _course(base: alt.Chart, frame: Frame) -> list[alt.Chart]:
    """Return the pale range and the long dashes of the course before, carried on."""
    known = base.transform_filter("isValid(datum.course)")
    area = known.mark_area(color=LIGHT["tint"], opacity=1)
    dashes = known.mark_line(strokeDash=[9, 5], strokeWidth=1.8, color=LIGHT["ink"])
    low = _y("low", frame)
    return [area.encode(y=low, y2=alt.Y2("high:Q")), dashes.encode(y=_y("course", frame))]


def _fitted(base: alt.Chart, frame: Frame) -> alt.Chart:
    known = base.transform_filter("isValid(datum.fitted)")
    line = known.mark_line(strokeWidth=3, color=LIGHT["data"], strokeCap="round")
    return cast(alt.Chart, line.encode(y=_y("fitted", frame), detail=alt.Detail("phase:N")))


def _dots(base: alt.Chart, frame: Frame) -> list[alt.Chart]:
    known = base.transform_filter("isValid(datum.rate)")
    y = _y("rate", frame)
    line = known.mark_line(strokeWidth=0.8, color=LIGHT["data"]).encode(
        y=y, detail=alt.Detail("stretch:N")
    )
    is_open = f"datum.counted < {SMALL} || datum.phase == '{LEFT_OUT}'"
    fill = alt.condition(is_open, alt.value(LIGHT["paper"]), alt.value(LIGHT["data"]))
    shape = alt.condition(
        f"datum.phase == '{LEFT_OUT}'",
        alt.value(SHAPES["left out"]),
        alt.value(SHAPES["value"]),
    )
    dots = known.mark_point(size=34, strokeWidth=1.3, stroke=LIGHT["data"], opacity=1)
    return [
        line,
        dots.encode(
            y=y,
            fill=as_channel(alt.FillValue, fill),
            shape=as_channel(alt.ShapeValue, shape),
            tooltip=tips(*TOLD),
        ),
    ]


def _target(base: alt.Chart, frame: Frame, drawn: pd.DataFrame) -> list[alt.Chart]:
    known = drawn.dropna(subset="target")
    if known.empty:
        return []
    y = _y("target", frame)
    dashes = base.transform_filter("isValid(datum.target)").mark_line(
        interpolate="step-after", strokeDash=[2, 3], strokeWidth=1.3, color=LIGHT["ink"]
    )
    words = alt.TextValue(f"target {of_numbers.percent(known['target'].iloc[0] / 100)}")
    at, align, is_above = _target_place(known, frame)
    label = alt.Chart(at).mark_text(
        align=align, baseline="bottom" if is_above else "top", dy=-3 if is_above else 4
    )
    return [dashes.encode(y=y), label.encode(x=alt.X("month:T"), y=y, text=words)]


def _target_place(known: pd.DataFrame, frame: Frame) -> tuple[pd.DataFrame, Any, bool]:
    """Return at which end the target's words stand, and whether above: where no month lies."""
    high = WORDS_PX * (frame.axis.high - frame.axis.low) / frame.height
    part = -(-len(known) // 3)
    places: list[tuple[int, pd.DataFrame, Any, bool]] = []
    for align, months, at in (
        ("left", known.head(part), known.head(1)),
        ("right", known.tail(part), known.tail(1)),
    ):
        over = pd.concat([months["rate"], months["fitted"]]) - months["target"].iloc[0]
        for is_above in (True, False):
            beside = over if is_above else -over
            places.append((int(beside.between(-high / 3, high).sum()), at, align, is_above))
    _, at, align, is_above = min(places, key=lambda one: one[0])
    return at, align, is_above


def _course_label(drawn: pd.DataFrame, frame: Frame) -> list[alt.Chart]:
    """Name the dashes below them, or above where the fitted line runs below."""
    known = drawn.dropna(subset="course")
    if known.empty:
        return []
    last = known.tail(1)
    is_below = bool((last["fitted"] >= last["course"]).iloc[0]) and last["course"].iloc[0] > 12
    # Clear of the dashes as far as the words reach.
    beside = known["course"].tail(-(-len(known) // WORDS_SHARE))
    last = last.assign(course=beside.min() if is_below else beside.max())
    look: dict[str, Any] = {"align": "right", "fontStyle": "italic", "dy": 12 if is_below else -10}
    mark = alt.Chart(last)
    # Paper behind the letters, so that no line strikes them out.
    behind = mark.mark_text(**look, **HALO)
    before = mark.mark_text(**look, color=LIGHT["ink"])
    y, words = _y("course", frame), alt.TextValue(COURSE)
    return [one.encode(x=alt.X("month:T"), y=y, text=words) for one in (behind, before)]


def rules(changes: pd.DataFrame, months: pd.Series, floor: float) -> list[alt.Chart]:
    """Return an upright rule and a line of text for each change or policy date."""
    first, last = months.iloc[0], months.iloc[-1] + pd.DateOffset(months=1)
    middle = first + (last - first) / 2
    marks = []
    for lane, change in enumerate(rows_of(changes, MarkRow)):
        at = pd.DataFrame({"start": [iso(change["start_on"])]})
        is_right = change["start_on"] > middle
        is_own = bool(change["is_own"])
        rule = alt.Chart(at).mark_rule(
            strokeWidth=1.6 if is_own else 1, color=LIGHT["ink" if is_own else "quiet"]
        )
        text = alt.Chart(at).mark_text(
            align="right" if is_right else "left",
            baseline="top",
            dx=-5 if is_right else 5,
            limit=room_beside(bool(is_right), "datum.start"),
            color=LIGHT["ink" if is_own else "quiet"],
        )
        y = y_px(lane * LANE_PX)
        marks += [
            rule.encode(x=alt.X("start:T"), y=y, y2=y2_px(floor)),
            text.encode(x=alt.X("start:T"), y=y, text=alt.TextValue(str(change["words"]))),
        ]
    return marks


def over_phases(
    study: Study, changes: pd.DataFrame, start_on: pd.Timestamp, is_main: bool = False
) -> alt.LayerChart:
    """Chart one measure before and after a change.

    ``changes``: start_on, words, is_own; those outside the months are left out. Needs a study
    with at least one month. The main measure's picture is taller.
    """
    months = study.months["month"]
    end = months.iloc[-1] + pd.DateOffset(months=1)
    shown = changes[(changes["start_on"] >= months.iloc[0]) & (changes["start_on"] < end)]
    drawn = points_frame(study)
    axis = axis_of(drawn)
    frame = Frame(14 + LANE_PX * len(shown), MAIN_HEIGHT_PX if is_main else CHART_HEIGHT_PX, axis)
    floor = frame.top + frame.height
    x = months_axis(months)
    base = alt.Chart().encode(x=x)
    marks = [
        *_course(base, frame),
        *rules(shown, months, floor),
        *_target(base, frame, drawn),
        _fitted(base, frame),
        *_dots(base, frame),
        *_course_label(drawn, frame),
        *percents.sign(axis, floor),
    ]
    return above_strip(
        marks,
        drawn,
        x,
        floor,
        slots=(len(drawn) + 1) / MARKS,
        description=change_words.chart_text(study, start_on),
        told=TOLD,
        settings=percents.setting(axis),
    )


def timeline(study: Study, changes: pd.DataFrame) -> alt.LayerChart:
    """Chart when what was changed, beneath the months compared. ``changes`` as above."""
    months = study.months["month"]
    end = months.iloc[-1] + pd.DateOffset(months=1)
    days = [f"{one.day} {one:%b %Y}" for one in changes["start_on"]]
    rows = by_rows.place(
        pd.DataFrame(
            {
                "group": ["Months compared", *(["In the log"] * len(changes))],
                "label": [_phase_label(study), *changes["words"].astype(str)],
                "told": ["", *days],
                "start": [None, *map(iso, changes["start_on"])],
                "is_own": [False, *changes["is_own"]],
            }
        )
    )
    x = months_axis(pd.concat([months, pd.Series([end])], ignore_index=True), "start", rows)
    marks = [*by_rows.words(rows), *_moments(rows, x), _phases(study, rows)]
    text = "When what was changed: " + "; ".join(
        f"{row['words']}, {change_words.day(row['start_on'])}" for row in rows_of(changes, MarkRow)
    )
    return by_rows.finish(rows, marks, text)


def _moments(rows: Rows, x: alt.X) -> list[alt.Chart]:
    """Return an upright rule for each change, thick for the one of the page."""
    known = rows.frame.dropna(subset="start")
    told = [alt.Tooltip("label:N", title="What"), alt.Tooltip("told:N", title="On")]
    marks = []
    # They carry the axis: a mark with two ends and a fixed domain warns in the console.
    for is_own in (True, False):
        these = known.loc[known["is_own"] == is_own, ["start", "y_mark", "label", "told"]]
        rule = alt.Chart(these).mark_tick(
            orient="vertical",
            size=18,
            thickness=4 if is_own else 1.6,
            color=LIGHT["ink"],
            opacity=1,
            clip=True,
        )
        y = by_rows.down(rows, "y_mark")
        marks.append(rule.encode(x=x if is_own else alt.X("start:T"), y=y, tooltip=told))
    return marks


def _phases(study: Study, rows: Rows) -> alt.Chart:
    """Return the bar of the months before, left out and after, in the first row."""
    height = float(rows.frame["y_mark"].iloc[0])
    fills = {BEFORE: LIGHT["paper"], LEFT_OUT: LIGHT["unknown"], AFTER: LIGHT["data"]}
    spans = pd.DataFrame(
        [
            {
                "start": iso(part["month"].min()),
                "stop": iso(part["month"].max() + pd.DateOffset(months=1)),
                "y_mark": height,
                "fill": fill,
            }
            for name, fill in fills.items()
            if len(part := study.phase(name))
        ]
    )
    bar = alt.Chart(spans).mark_bar(height=7, stroke=LIGHT["data"], strokeWidth=1.2, clip=True)
    drawn = bar.encode(
        x=alt.X("start:T"),
        x2=alt.X2("stop:T"),
        y=by_rows.down(rows, "y_mark"),
        fill=alt.Fill("fill:N", scale=None),
    )
    return cast(alt.Chart, drawn)


def _phase_label(study: Study) -> str:
    apart = len(study.phase(LEFT_OUT))
    words = f"{len(study.phase(BEFORE))} before (open), {len(study.phase(AFTER))} after (filled)"
    return words + (f", {apart} left out (hatched)" if apart else "")


def _domain(spans: Sequence[Span]) -> tuple[float, float]:
    """Return the axis of points: whole fives that hold every interval, and no effect."""
    low = min([-5.0, *(5 * (100 * span.lower // 5) for span in spans)])
    high = max([5.0, *(-5 * (-100 * span.upper // 5) for span in spans)])
    return low, high


def spans_chart(
    groups: Sequence[str], labels: Sequence[str], spans: Sequence[Span], text: str
) -> alt.LayerChart:
    """Chart effects in points, one row each, with 95 % intervals and an upright line at 0."""
    told = [f"{of_numbers.points(one.guess)} ({change_words.points_range(one)})" for one in spans]
    frame = pd.DataFrame(
        {
            "group": list(groups),
            "label": list(labels),
            "told": told,
            "short": [of_numbers.points(one.guess) for one in spans],
            "is_out": [one.leaves_out_zero for one in spans],
            "guess": [round(100 * one.guess, 2) for one in spans],
            "low": [round(100 * one.lower, 2) for one in spans],
            "high": [round(100 * one.upper, 2) for one in spans],
        }
    )
    rows, domain = by_rows.place(frame), _domain(spans)
    marks = [
        *by_rows.line_through(rows, 0, "no effect"),
        *by_rows.words(rows),
        *_span_marks(rows, domain),
    ]
    return by_rows.finish(rows, marks, text)


def _span_marks(rows: Rows, domain: tuple[float, float]) -> list[alt.Chart]:
    """Return interval and dot of each row; filled diamonds leave out no effect."""
    marks = []
    for is_out, shape in ((False, SHAPES["value"]), (True, SHAPES["outside"])):
        base = alt.Chart(rows.frame[rows.frame["is_out"] == is_out])
        rule = base.mark_rule(strokeWidth=2, color=LIGHT["data"])
        dot = base.mark_point(
            shape=shape,
            size=SIGNAL_PX if is_out else 46,
            stroke=LIGHT["ink" if is_out else "data"],
            fill=LIGHT["ink" if is_out else "paper"],
            strokeWidth=1.4,
            opacity=1,
        )
        y = by_rows.down(rows, "y_mark")
        across = by_rows.across(rows, "low", domain, "")
        tips = [alt.Tooltip("label:N", title="Of"), alt.Tooltip("told:N", title="Points")]
        marks += [
            rule.encode(x=across, x2=alt.X2("high:Q"), y=y),
            dot.encode(x=by_rows.across(rows, "guess", domain, ""), y=y, tooltip=tips),
        ]
    return marks
