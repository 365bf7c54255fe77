"""What the charts share: how they are put together, dates as the axis reads them, chance."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final, TypeVar

import altair as alt
import pandas as pd

from pipelines.drawing.theme import LIGHT, STRIP_GAP_PX, STRIP_HEIGHT_PX

LANE_PX: Final = 17  # one line of text above the plot for each change
TICK_MONTHS: Final = 3  # a month's name every quarter, counted back from the last month
# A date so written is read in the browser's own time zone, as the axis does.
ISO: Final = "%Y-%m-%dT00:00:00"
C = TypeVar("C")


def iso(moment: pd.Timestamp) -> str:
    """Write a date as the data of a chart hold it."""
    return moment.strftime(ISO)


def day(moment: pd.Timestamp) -> alt.DateTime:
    """Write a date as the ends and ticks of an axis hold it."""
    return alt.DateTime(year=moment.year, month=moment.month, date=moment.day)


def x_px(px: Any) -> alt.XValue:
    """Place something at a number of px from the left, at "width", the right edge, or as said.

    As ``alt.value`` does, which searches the library's whole schema for the class first.
    """
    return alt.XValue(px)  # type: ignore[no-untyped-call]


def x2_px(px: Any) -> alt.X2Value:
    """End something at a number of px from the left, or at "width"."""
    return alt.X2Value(px)  # type: ignore[no-untyped-call]


def y_px(px: float) -> alt.YValue:
    """Place something at a number of px from the top."""
    return alt.YValue(px)  # type: ignore[no-untyped-call]


def y2_px(px: float) -> alt.Y2Value:
    """End something at a number of px from the top."""
    return alt.Y2Value(px)  # type: ignore[no-untyped-call]


def room_beside(is_left: bool, field: str) -> alt.ExprRef:
    """Return how many px words have that stand left or right of a date of the x axis."""
    at = f"scale('x', toDate({field}))"
    return alt.ExprRef(f"{at} - 6" if is_left else f"width - {at} - 6")


def tips(*fields: str) -> list[alt.Tooltip]:
    """Return what is told of a mark: texts; a plain list of fields would be searched for too."""
    return [alt.Tooltip(f"{field}:N") for field in fields]


def as_channel(channel: type[C], choice: Any) -> C:
    """Return what ``alt.condition`` chooses as a channel such as ``alt.FillValue``.

    Given as it is, the library searches its whole schema for that class, chart by chart.
    """
    return channel(**choice)


def whole(
    marks: Sequence[alt.Chart],
    height: float,
    description: str,
    *,
    data: Any = alt.Undefined,
    width: Any = "container",
    settings: Mapping[str, Any] = MappingProxyType({}),
    read: str = "across",
) -> alt.LayerChart:
    """Lay the marks over each other as one chart with its alternative text.

    ``data``: the frame of the marks that have none of their own. ``width`` in px, or
    "container": as wide as what it stands in. ``settings``: what ``draw.js`` may set, by name,
    with its first value. ``read``: how its values are read one by one, "across", "down" or "both"
    (``values.js``).
    """
    # Given at once: every later call on a layered chart copies all of its layers.
    return alt.LayerChart(
        data=data,
        layer=list(marks),
        width=width,
        height=height,
        description=description,
        params=[alt.VariableParameter(name=name, value=one) for name, one in settings.items()],
        usermeta=alt.Undefined if read == "across" else {"read": read},
    )


def _strip_top(undocumented: "pd.Series[float]") -> float:
    """Return the percent at the strip's upper edge."""
    return max(20.0, -(-float(undocumented.fillna(0).max()) // 10) * 10)


def in_strip(undocumented: "pd.Series[float]", top: float) -> "pd.Series[float]":
    """Return how many px down each bar of the strip ends, whose upper edge is ``top`` px down."""
    share = undocumented / _strip_top(undocumented)
    return (top + STRIP_HEIGHT_PX * (1 - share)).round(1)


def _strip(
    points: pd.DataFrame, x: alt.X, top: float, bar_px: str, told: Sequence[str]
) -> list[alt.Chart]:
    floor = top + STRIP_HEIGHT_PX
    highest = _strip_top(points["undocumented"])
    y = alt.Y("strip_px:Q", scale=None, axis=None, stack=None)
    # The bars keep to a part of a month's width, however wide the chart is drawn.
    bar = alt.Chart().mark_bar(color=LIGHT["unknown"], size=alt.ExprRef(bar_px), orient="vertical")
    ends = pd.DataFrame({"strip_px": [floor, top], "words": ["0 %", f"{highest:.0f} %"]})
    edge = alt.Chart(ends.tail(1)).mark_rule(color=LIGHT["line"])
    number = alt.Chart(ends).mark_text(align="right", dx=-6, color=LIGHT["quiet"])
    name = alt.Chart(ends.tail(1)).mark_text(
        align="left", baseline="bottom", dy=-2, color=LIGHT["quiet"]
    )
    return [
        bar.encode(x=x, y=y, y2=y2_px(floor), tooltip=tips(*told)),
        edge.encode(x=x_px(0), y=y, y2=y2_px(floor)),
        number.encode(x=x_px(0), y=y, text=alt.Text("words:N")),
        name.encode(x=x_px(2), y=y, text=alt.TextValue("share not documented")),
    ]


def above_strip(
    marks: Sequence[alt.Chart],
    points: pd.DataFrame,
    x: alt.X,
    floor: float,
    *,
    slots: float,
    right: int = 0,
    description: str,
    told: Sequence[str],
    settings: Mapping[str, Any],
) -> alt.LayerChart:
    """Return a plot that ends ``floor`` px down with the share not documented beneath it.

    ``points``, the data of the marks that have none of their own: Month, undocumented
    (percent), and what is ``told`` of a month: a month without a dot still has its bar.
    ``slots``: how many bars with their gaps the width holds, less ``right`` px; ``settings``
    as in ``whole``. The strip's heights are px and not a second scale, so that a chart is one
    set of layers: a level of layers within layers is copied again with every step the library
    takes.
    """
    top = floor + STRIP_GAP_PX
    drawn = points.assign(strip_px=in_strip(points["undocumented"], top))
    every = [*marks, *_strip(drawn, x, top, f"(width - {right}) / {slots:.1f}", told)]
    return whole(every, top + STRIP_HEIGHT_PX, description, data=drawn, settings=settings)


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
