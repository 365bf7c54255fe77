"""The pictures of what was measured: means, and beneath them the spreads, on the same months."""

from typing import Any, Final

import altair as alt
import numpy as np
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing import signals, values_axis
from pipelines.drawing.layers import ISO, as_channel, chance, iso, tips, whole
from pipelines.drawing.over_months import months_axis
from pipelines.drawing.theme import HALO, LIGHT, SHAPES
from pipelines.pages.review.spread import words as spread_words
from pipelines.pages.review.spread.read import Measured, SpreadMonthRow
from pipelines.reading.small_numbers import SMALL
from pipelines.words import of_numbers

MEAN, SPREAD = "mean", "spread"
HEIGHT_PX: Final = {MEAN: 150, SPREAD: 80}
EDGE_PX: Final = 12
TOLD: Final = (
    "Month",
    "Mean",
    "Limits of the mean",
    "By its readings alone",
    "Spread",
    "Limits of the spread",
    "Readings",
)


def cells_of(one: Measured, months: pd.DataFrame) -> list[list[str]]:
    """Return the words of each month: as TOLD."""
    mean, spread = spread_words.mean_words, spread_words.spread_words
    return [
        [
            f"{row['month']:%b %y}",
            mean(one, row["mean"]),
            spread_words.span_words(mean(one, row["low"]), mean(one, row["high"])),
            spread_words.span_words(mean(one, row["alone_low"]), mean(one, row["alone_high"])),
            spread(one, row["spread"]),
            spread_words.span_words(
                spread(one, row["spread_low"]), spread(one, row["spread_high"])
            ),
            of_numbers.count(row["readings"]),
        ]
        for row in rows_of(months, SpreadMonthRow)
    ]


def _drawn(one: Measured, months: pd.DataFrame, what: str) -> pd.DataFrame:
    """Return what one picture draws, in the unit that is shown: value, centre, low, high."""
    ahead = "" if what == MEAN else "spread_"
    numbers = pd.DataFrame(
        {
            "value": months[what],
            **{name: months[f"{ahead}{name}"] for name in ("centre", "low", "high")},
        }
    ).astype(float)
    if one.is_time:
        numbers = numbers.apply(np.exp)
    drawn = numbers.round(3).assign(
        month=months["month"].dt.strftime(ISO), readings=months["readings"], phase=1
    )
    cells = pd.DataFrame(cells_of(one, months), columns=list(TOLD), index=drawn.index)
    return drawn.join(cells).reset_index(drop=True)


def _axes(one: Measured, drawn: pd.DataFrame, what: str, top: float) -> tuple[alt.X, alt.Y]:
    x = months_axis(pd.to_datetime(drawn["month"]))
    held = drawn[["value", "centre", "low", "high"]].to_numpy(float).ravel()
    unit = one.unit if what == MEAN or not one.is_time else spread_words.TIMES
    of = values_axis.ends(held, unit if what == MEAN else "")
    return x, values_axis.up("value", of, unit, (top + HEIGHT_PX[what], top))


def _spoken(one: Measured, drawn: pd.DataFrame, what: str) -> pd.DataFrame:
    """Return the marks of the signals: of the means by rule, of the spreads outside limits."""
    values = dict(zip(drawn["month"], drawn["value"], strict=True))
    if what == MEAN:
        return signals.spoken(
            one.means, values, lambda row: iso(row["start_on"]) if row["start_on"] else ""
        )
    at = [iso(month) for month in one.spread_outside["month"]]
    rows = [(each, values[each], "ink", SHAPES["outside"], "") for each in at if each in values]
    return pd.DataFrame(rows, columns=list(signals.COLUMNS))


def over_months(one: Measured, what: str, first: pd.Timestamp) -> alt.LayerChart:
    """Chart the means, or the spreads, of one measured value from a month on."""
    months = one.months[one.months["month"] >= first]
    drawn = _drawn(one, months, what)
    found = _spoken(one, drawn, what)
    top = EDGE_PX + signals.lanes(found)
    x, y = _axes(one, drawn, what, top)
    base = alt.Chart().encode(x=x)
    fill = alt.condition(
        f"datum.readings < {SMALL}", alt.value(LIGHT["paper"]), alt.value(LIGHT["data"])
    )
    line = base.mark_line(strokeWidth=1.2, color=LIGHT["data"])
    dots = base.mark_point(
        shape=SHAPES["value"], size=30, strokeWidth=1.3, stroke=LIGHT["data"], opacity=1
    )
    at = alt.Chart(drawn[["month", "value"]].tail(1))
    look: dict[str, Any] = {"align": "left", "baseline": "middle", "dx": 9, "fontWeight": "bold"}
    last = alt.TextValue(drawn[what.capitalize()].iloc[-1])
    marks = [
        *chance(base, drawn),
        line.encode(y=y),
        dots.encode(y=y, fill=as_channel(alt.FillValue, fill), tooltip=tips(*TOLD)),
        *signals.lane(found, "month:T", "value:Q", 0, drawn["month"].iloc[len(drawn) // 2]),
        *signals.marks(found, "month:T", "value:Q"),
        *(
            each.encode(x=alt.X("month:T"), y=alt.Y("value:Q"), text=last)
            for each in (at.mark_text(**look, **HALO), at.mark_text(**look))
        ),
    ]
    text = spread_words.chart_text(one, what, months)
    return whole(marks, top + HEIGHT_PX[what], text, data=drawn)
