"""The picture of a sum over the newborns: a thin line beneath its limit, months as dots."""

from typing import Any, Final

import altair as alt
import numpy as np
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing import signals
from pipelines.drawing.layers import as_channel, tips, whole, x2_px, x_px
from pipelines.drawing.over_months import HALF_MONTH, months_axis
from pipelines.drawing.theme import CHART_HEIGHT_PX, HALO, LIGHT, SHAPES
from pipelines.pages.review.harm import words as harm_words
from pipelines.pages.review.read import MONTHS_DRAWN
from pipelines.reading.harms import Harm, HarmData, HarmMonthRow
from pipelines.reading.small_numbers import SMALL
from pipelines.words import of_numbers
from pipelines.words.of_measures import ABOVE

EDGE_PX: Final = 10
ROOM: Final = 1.12  # of the axis, above the limit or the highest sum
AT: Final = "%Y-%m-%dT%H:00:00"
TOLD: Final = ("Month", "n of N", "Expected", "Sum", "Limit")


def _at(newborns: pd.DataFrame) -> pd.Series:
    """Return where each newborn stands: births of a month spread evenly over its own width."""
    by_month = newborns.groupby("month")["happened"]
    share = (by_month.cumcount() + 1) / by_month.transform("size")
    at: pd.Series = newborns["month"] - HALF_MONTH + share * 2 * HALF_MONTH
    return at


def _path(one: Harm, first: pd.Timestamp) -> pd.DataFrame:
    """Return the corners of the line: before and after each event, the end of each month."""
    newborns = one.newborns
    height, at = one.watched.path, _at(newborns)
    before = np.concatenate([[0.0], height[:-1]])
    after_signal = one.watched.signals + 1
    before[after_signal[after_signal < len(before)]] = 0.0  # it begins anew
    before[: one.watched.baseline + 1] = 0.0
    is_last = ~newborns["month"].duplicated(keep="last")
    kept = (newborns["happened"] | is_last).to_numpy() & ~np.isnan(height)
    kept &= (newborns["month"] >= first).to_numpy()
    places = np.flatnonzero(kept)
    corners = pd.DataFrame(
        {
            "at": np.repeat(at.to_numpy()[places], 2),
            "height": np.column_stack([before[places], height[places]]).ravel(),
        }
    )
    corners["at"] = corners["at"].dt.strftime(AT)
    return corners.round({"height": 3})


def _month_dots(one: Harm, months: pd.DataFrame) -> pd.DataFrame:
    rows = rows_of(months, HarmMonthRow)
    limit = harm_words.height(one.watched.limit.height)
    return pd.DataFrame(
        {
            "at": (months["month"] + HALF_MONTH).dt.strftime(AT),
            "height": months["height"].round(3),
            "counted": months["newborns"],
            "Month": months["month"].dt.strftime("%b %y"),
            "n of N": [
                f"{of_numbers.count(row['events'])} of {of_numbers.count(row['newborns'])}"
                for row in rows
            ],
            "Expected": [harm_words.expected(row["expected"]) for row in rows],
            "Sum": [harm_words.height(row["height"]) for row in rows],
            "Limit": limit,
        }
    )


def _spoken(one: Harm, first: pd.Timestamp) -> pd.DataFrame:
    """Return the marks of the signals, as ``drawing.signals`` draws them; the last has words."""
    at = _at(one.newborns)
    places = [int(p) for p in one.watched.signals if one.newborns["month"].iloc[p] >= first]
    found = pd.DataFrame(
        [
            (at.iloc[p].strftime(AT), round(float(one.watched.path[p]), 3), "attention")
            for p in places
        ],
        columns=["at", "height", "sense"],
    ).rename(columns={"height": "value"})
    found["shape"] = SHAPES["outside"]
    found["words"] = ""
    if len(found):
        found.loc[len(found) - 1, "words"] = ABOVE
    return found[list(signals.COLUMNS)]


def _axes(one: Harm, months: pd.DataFrame, top: float) -> tuple[alt.X, alt.Y]:
    x = months_axis(months["month"], "at")
    highest = ROOM * max(one.watched.limit.height, float(np.nanmax(one.watched.path)))
    up = alt.Scale(domain=[0, highest], range=[top + CHART_HEIGHT_PX, top], nice=False)
    return x, alt.Y("height:Q", scale=up, axis=alt.Axis(title=None, tickCount=4))


def _allowed(one: Harm, y: alt.Y) -> list[alt.Chart]:
    """Return the pale area of what chance allows, to the limit, with its words at the right."""
    limit = one.watched.limit.height
    base = alt.Chart(pd.DataFrame({"low": [0.0], "height": [limit]}))
    area = base.mark_rect(color=LIGHT["tint"], opacity=1)
    edge = base.mark_rule(color=LIGHT["unknown"], strokeWidth=0.9)
    words = base.mark_text(align="right", baseline="bottom", dy=-3)
    text = alt.TextValue(f"limit {harm_words.height(limit)}")
    across = {"x": x_px(0), "x2": x2_px("width")}
    return [
        area.encode(**across, y=alt.Y("low:Q"), y2=alt.Y2("height")),
        edge.encode(**across, y=y),
        words.encode(x=x_px("width"), y=alt.Y("height:Q"), text=text),
    ]


def sum_chart(one: Harm, data: HarmData) -> alt.LayerChart:
    """Chart one measure's sum over the months that are drawn; open dots are small numbers."""
    first = data.month - pd.DateOffset(months=MONTHS_DRAWN - 1)
    months = one.months[one.months["month"] >= first]
    found = _spoken(one, first)
    top = EDGE_PX + signals.lanes(found)
    x, y = _axes(one, months, top)
    dots = _month_dots(one, months)
    line = alt.Chart(_path(one, first)).mark_line(strokeWidth=1.2, color=LIGHT["data"])
    fill = alt.condition(
        f"datum.counted < {SMALL}", alt.value(LIGHT["paper"]), alt.value(LIGHT["data"])
    )
    points = alt.Chart(dots).mark_point(
        shape=SHAPES["value"], size=26, strokeWidth=1.3, stroke=LIGHT["data"], opacity=1
    )
    last = alt.Chart(dots.tail(1)[["at", "height"]])
    look: dict[str, Any] = {"align": "left", "baseline": "middle", "dx": 9, "fontWeight": "bold"}
    words = alt.TextValue(dots["Sum"].iloc[-1])
    middle = months["month"].iloc[len(months) // 2].strftime(AT)
    marks = [
        *_allowed(one, y),
        line.encode(x=alt.X("at:T"), y=alt.Y("height:Q")),
        points.encode(x=x, y=y, fill=as_channel(alt.FillValue, fill), tooltip=tips(*TOLD)),
        *signals.lane(found, "at:T", "height:Q", 0, middle),
        *signals.marks(found, "at:T", "height:Q"),
        *(
            each.encode(x=alt.X("at:T"), y=alt.Y("height:Q"), text=words)
            for each in (last.mark_text(**look, **HALO), last.mark_text(**look))
        ),
    ]
    return whole(marks, top + CHART_HEIGHT_PX, harm_words.chart_text(one, data))
