"""The picture of a measured value around a change: the mean by month, fitted and as it was going.

The grammar is that of the share's picture (charts.py): dots are months, the thick line is fitted,
long dashes are the course before carried on with its range as a pale area. Minutes are fitted as
logarithms and drawn as minutes; nothing is turned back into points of a share.
"""

from typing import Any, Final

import altair as alt
import numpy as np
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing import values_axis
from pipelines.drawing.layers import LANE_PX, as_channel, iso, tips, whole
from pipelines.drawing.theme import CHART_HEIGHT_PX, HALO, LIGHT, SHAPES
from pipelines.pages.change import words as change_words
from pipelines.pages.change.charts import COURSE, months_axis, rules
from pipelines.pages.change.frames import ValueMonthRow
from pipelines.reading.before_after import LEFT_OUT, Study
from pipelines.reading.measured import ValueStudy
from pipelines.reading.small_numbers import SMALL
from pipelines.statistics import effects
from pipelines.words import of_numbers, of_verdicts

TOLD: Final = ("Month", "Mean", "Spread", "Readings", "Fitted", "Course before", "Phase")
NUMBERS: Final = ("mean", "fitted", "course", "low", "high")


def what(value: ValueStudy) -> str:
    """Say what is measured."""
    return "how long it took" if value.is_time else "the mean reading"


def months_of(study: Study, value: ValueStudy) -> pd.DataFrame:
    """Return ValueMonthRow: what the picture and its table say."""
    phases = study.months[["month", "phase"]]
    rows = value.months.merge(phases, on="month").sort_values("month", ignore_index=True)
    drawn = rows[["month", "phase", "readings", "spread", "mean"]].copy()
    if value.fit is not None:
        found = effects.lines(value.fit, rows["place"].to_numpy(float))
        drawn["fitted"], drawn["course"] = found.fitted, found.without_change
        drawn["low"], drawn["high"] = found.lower, found.upper
    drawn = drawn.reindex(columns=[*drawn.columns[:5], *NUMBERS[1:]])
    drawn.loc[drawn["phase"] == LEFT_OUT, list(NUMBERS[1:])] = np.nan
    if value.is_time:
        drawn[list(NUMBERS)] = np.exp(drawn[list(NUMBERS)].astype(float))
    return drawn


def table_of(months: pd.DataFrame, value: ValueStudy) -> list[list[str]]:
    """Return the cells of each month, the latest first: as TOLD, the phase second."""
    lines = []
    for row in rows_of(months.iloc[::-1], ValueMonthRow):
        lines.append(
            [
                change_words.month(row["month"]),
                row["phase"],
                of_verdicts.value_number(value, row["mean"]),
                of_verdicts.value_spread(value, row["spread"]),
                of_numbers.count(row["readings"]),
                of_verdicts.value_number(value, row["fitted"]),
                of_verdicts.value_number(value, row["course"]),
            ]
        )
    return lines


def _drawn(months: pd.DataFrame, value: ValueStudy) -> pd.DataFrame:
    drawn = months.drop(columns=["spread"]).round(dict.fromkeys(NUMBERS, 3))
    cells = pd.DataFrame(table_of(months, value)[::-1], columns=[TOLD[0], "Phase", *TOLD[1:6]])
    drawn["month"] = [iso(one) for one in months["month"]]
    drawn["stretch"] = months["phase"]
    return drawn.join(cells)


def _lines(base: alt.Chart, y: alt.Y) -> list[alt.Chart]:
    """Return the pale range, the long dashes, the fitted line and the thin line of months."""
    known = base.transform_filter("isValid(datum.course)")
    area = known.mark_area(color=LIGHT["tint"], opacity=1)
    dashes = known.mark_line(strokeDash=[9, 5], strokeWidth=1.8, color=LIGHT["ink"])
    fitted = base.transform_filter("isValid(datum.fitted)")
    thick = fitted.mark_line(strokeWidth=3, color=LIGHT["data"], strokeCap="round")
    thin = base.mark_line(strokeWidth=0.8, color=LIGHT["data"])
    detail = alt.Detail("stretch:N")
    return [
        area.encode(y=alt.Y("low:Q"), y2=alt.Y2("high")),
        dashes.encode(y=alt.Y("course:Q")),
        thick.encode(y=alt.Y("fitted:Q"), detail=detail),
        thin.encode(y=y, detail=detail),
    ]


def _dots(base: alt.Chart, y: alt.Y) -> alt.Chart:
    is_open = f"datum.readings < {SMALL} || datum.phase == '{LEFT_OUT}'"
    fill = alt.condition(is_open, alt.value(LIGHT["paper"]), alt.value(LIGHT["data"]))
    shape = alt.condition(
        f"datum.phase == '{LEFT_OUT}'",
        alt.value(SHAPES["left out"]),
        alt.value(SHAPES["value"]),
    )
    dots: alt.Chart = base.mark_point(size=34, strokeWidth=1.3, stroke=LIGHT["data"], opacity=1)
    drawn: alt.Chart = dots.encode(
        y=y,
        fill=as_channel(alt.FillValue, fill),
        shape=as_channel(alt.ShapeValue, shape),
        tooltip=tips(*TOLD),
    )
    return drawn


def _course_label(drawn: pd.DataFrame) -> list[alt.Chart]:
    """Name the dashes at the side of them on which the fitted line does not run.

    Clear of the months as far as the words reach: half of the picture on a phone.
    """
    known = drawn.dropna(subset="course")
    if known.empty:
        return []
    last = known.tail(1)
    is_below = bool((last["fitted"] >= last["course"]).iloc[0])
    near = drawn.tail(-(-len(drawn) // 2))[["mean", "fitted", "course"]].to_numpy(float)
    at = last[["month"]].assign(course=np.nanmin(near) if is_below else np.nanmax(near))
    mark = alt.Chart(at)
    look: dict[str, Any] = {"align": "right", "fontStyle": "italic", "dy": 12 if is_below else -10}
    both = (mark.mark_text(**look, **HALO), mark.mark_text(**look, color=LIGHT["ink"]))
    words = alt.TextValue(COURSE)
    return [one.encode(x=alt.X("month:T"), y=alt.Y("course:Q"), text=words) for one in both]


def over_values(study: Study, value: ValueStudy, changes: pd.DataFrame) -> alt.LayerChart:
    """Chart a measured value before and after a change; ``changes`` as for ``over_phases``."""
    months = study.months["month"]
    end = months.iloc[-1] + pd.DateOffset(months=1)
    shown = changes[(changes["start_on"] >= months.iloc[0]) & (changes["start_on"] < end)]
    drawn = _drawn(months_of(study, value), value)
    top = 14 + LANE_PX * len(shown)
    floor = top + CHART_HEIGHT_PX
    held = drawn[["mean", "fitted", "course"]].to_numpy(float).ravel()
    span = values_axis.ends(held, value.unit)
    # A wide doubt must not flatten the months: the pale area is cut off at the edge.
    drawn[["low", "high"]] = drawn[["low", "high"]].clip(*span)
    y = values_axis.up("mean", span, value.unit, (floor, top))
    base = alt.Chart().encode(x=months_axis(months))
    marks = [
        *_lines(base, y),
        *rules(shown, months, floor),
        _dots(base, y),
        *_course_label(drawn),
    ]
    return whole(marks, floor, text(study, value, drawn), data=drawn)


def text(study: Study, value: ValueStudy, drawn: pd.DataFrame) -> str:
    """Return the alternative text of the picture."""
    first, last = drawn["Month"].iloc[0], drawn["Month"].iloc[-1]
    return (
        f"{change_words.title(study)}: {what(value)} by month from {first} to {last}, with the "
        f"line that is fitted and the course before carried on. {of_verdicts.value_words(value)} "
        "Every number stands in the table below."
    )
