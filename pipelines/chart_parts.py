"""What the charts share: how they are put together, dates as the axis reads them, chance."""

from collections.abc import Sequence
from typing import Any, Final

import altair as alt
import pandas as pd

from pipelines.theme import LIGHT

LANE_PX: Final = 17  # one line of text above the plot for each change
TICK_MONTHS: Final = 3  # a month's name every quarter, counted back from the last month
# A date so written is read in the browser's own time zone, as the axis does.
ISO: Final = "%Y-%m-%dT00:00:00"


def iso(moment: pd.Timestamp) -> str:
    """Write a date as the data of a chart hold it."""
    return moment.strftime(ISO)


def day(moment: pd.Timestamp) -> alt.DateTime:
    """Write a date as the ends and ticks of an axis hold it."""
    return alt.DateTime(year=moment.year, month=moment.month, date=moment.day)


def x_px(px: float | str) -> alt.XValue:
    """Place something at a number of px from the left, or at "width", the right edge.

    As ``alt.value`` does, which searches the library's whole schema for the class first.
    """
    return alt.XValue(px)  # type: ignore[no-untyped-call]


def y_px(px: float) -> alt.YValue:
    """Place something at a number of px from the top."""
    return alt.YValue(px)  # type: ignore[no-untyped-call]


def y2_px(px: float) -> alt.Y2Value:
    """End something at a number of px from the top."""
    return alt.Y2Value(px)  # type: ignore[no-untyped-call]


def whole(
    marks: Sequence[alt.Chart | alt.LayerChart],
    height: float,
    description: str,
    *,
    width: Any = "container",
) -> alt.LayerChart:
    """Lay the marks over each other as one chart with its alternative text.

    ``width`` in px, or "container": as wide as what it stands in.
    """
    # Given at once: every later call on a layered chart copies all of its layers.
    return alt.LayerChart(layer=list(marks), width=width, height=height, description=description)


def over_strip(
    marks: Sequence[alt.Chart], strip: Sequence[alt.Chart], height: float, description: str
) -> alt.LayerChart:
    """Return a plot and the strip beneath it as one chart; each has its own height axis."""
    return alt.LayerChart(
        layer=[alt.layer(*marks), alt.layer(*strip)],
        resolve=alt.Resolve(scale=alt.ScaleResolveMap(y="independent")),
        width="container",
        height=height,
        description=description,
    )


def chance(base: alt.Chart, points: pd.DataFrame) -> list[alt.Chart]:
    """Return the pale area of what chance allows and its centre line; nothing without limits.

    ``points``, which ``base`` draws: low, high, centre, phase.
    """
    marks = []
    if points["low"].notna().any():
        area = base.transform_filter("isValid(datum.low)").mark_area(
            color=LIGHT["tint"], interpolate="step"
        )
        marks.append(area.encode(y=alt.Y("low:Q"), y2=alt.Y2("high"), detail=alt.Detail("phase:N")))
    if points["centre"].notna().any():
        line = base.transform_filter("isValid(datum.centre)").mark_line(
            strokeWidth=0.9, color=LIGHT["unknown"], interpolate="step"
        )
        marks.append(line.encode(y=alt.Y("centre:Q"), detail=alt.Detail("phase:N")))
    return marks
