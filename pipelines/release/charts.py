"""The chart of one released measure: masked rows in, an ``alt.LayerChart`` out.

It is given nothing but the masked rows, so no point, tooltip or alternative text can say more
than the released table. A hidden period is a hatched block at the foot of the plot.
"""

from typing import Final

import altair as alt
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing import percents
from pipelines.drawing.layers import ISO, day, tips, whole, y2_px, y_px
from pipelines.drawing.percents import fitted
from pipelines.drawing.theme import CHART_HEIGHT_PX, LIGHT, SHAPES
from pipelines.release.frames import ToldRow
from pipelines.words import of_numbers

HIDDEN_PX: Final = 10  # height of the block that stands for a hidden period


def period_words(kind: str, start: pd.Timestamp, end: pd.Timestamp) -> str:
    """Say a released period: "Mar 26", or "Jan 26 to Mar 26".

    >>> period_words("month", pd.Timestamp("2026-03-01"), pd.Timestamp("2026-03-31"))
    'Mar 26'
    >>> period_words("quarter", pd.Timestamp("2026-01-01"), pd.Timestamp("2026-03-31"))
    'Jan 26 to Mar 26'
    """
    first, last = f"{start:%b %y}", f"{end:%b %y}"
    return first if kind == "month" or first == last else f"{first} to {last}"


def _points(rows: pd.DataFrame) -> pd.DataFrame:
    points = pd.DataFrame(
        {
            "start": pd.to_datetime(rows["period_start"]).dt.strftime(ISO),
            "Period": rows["period"],
            "n of N": rows["fraction"],
            "Percent": rows["percent"],
            "Interval": rows["interval"],
        }
    )
    for name in ("rate", "lower", "upper", "target"):
        points[name] = (rows[name].astype(float) * 100).round(1)
    points["is_hidden"] = rows["is_hidden"].astype(bool)
    points["segment"] = points["rate"].isna().cumsum()
    return points


def alt_text(rows: pd.DataFrame) -> str:
    """Return the alternative text: kind, span, last shown value, what is hidden, target."""
    first, last = rows_of(rows.iloc[[0, -1]], ToldRow)
    hidden = int(rows["is_hidden"].sum())
    target = (
        "no target" if last["target"] is None else f"target {of_numbers.percent(last['target'])}"
    )
    return (
        f"{last['title']}: percentages of {of_numbers.number_of(len(rows), 'period')}, "
        f"{first['period']} to {last['period']}. Last: {last['fraction']}, {last['percent']}; "
        f"{target}; {of_numbers.number_of(hidden, 'period')} hidden."
    )


def over_periods(rows: pd.DataFrame) -> alt.LayerChart:
    """Chart one released measure over its periods.

    ``rows``, in order: title, period_start, period, fraction, percent, interval (words), rate,
    lower, upper, target (shares of 1, null where hidden), is_hidden.
    """
    points = _points(rows)
    # The span is said, not found: a layer may be without a row.
    x = alt.X(
        "start:T",
        scale=alt.Scale(
            domain=[
                day(pd.Timestamp(points["start"].iloc[0])),
                day(pd.Timestamp(points["start"].iloc[-1])),
            ]
        ),
        axis=alt.Axis(format="%b %y", title=None, labelOverlap=True),
    )
    base = alt.Chart(points).encode(x=x)
    axis = fitted([*points["rate"], *points["target"]], [*points["lower"], *points["upper"]])
    y = percents.up("rate", axis, (CHART_HEIGHT_PX, 0))
    told = tips("Period", "n of N", "Percent", "Interval")
    foot = CHART_HEIGHT_PX + (percents.SIGN_PX if axis.is_broken else 0)
    known = base.transform_filter("isValid(datum.rate)")
    marks = [
        known.mark_rule(strokeWidth=3, color=LIGHT["tint"]).encode(
            y=alt.Y("lower:Q"), y2=alt.Y2("upper")
        ),
        known.mark_line(strokeWidth=1.2, color=LIGHT["data"]).encode(
            y=y, detail=alt.Detail("segment:N")
        ),
        known.mark_point(
            shape=SHAPES["value"], size=34, filled=True, opacity=1, color=LIGHT["data"]
        ).encode(y=y, tooltip=told),
        base.transform_filter("datum.is_hidden")
        .mark_bar(size=9, color=LIGHT["unknown"])
        .encode(y=y_px(foot - HIDDEN_PX), y2=y2_px(foot), tooltip=told),
    ]
    if points["target"].notna().any():
        dashes = base.transform_filter("isValid(datum.target)").mark_line(
            interpolate="step-after", strokeDash=[3, 3], strokeWidth=1.4, color=LIGHT["ink"]
        )
        marks.append(dashes.encode(y=alt.Y("target:Q")))
    marks += percents.sign(axis, CHART_HEIGHT_PX)
    return whole(marks, foot, alt_text(rows), settings=percents.setting(axis))
