"""What the charts over time share: dates as the axis reads them, lanes, what chance allows."""

from typing import Final

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
