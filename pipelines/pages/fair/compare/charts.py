"""The funnel: percent by number of newborns, with what chance allows about all of them."""

from typing import Any, Final, NamedTuple

import altair as alt
import numpy as np
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing import percents
from pipelines.drawing.layers import as_channel, tips, whole
from pipelines.drawing.percents import Fitted, fitted
from pipelines.drawing.theme import HALO, LIGHT, SHAPES, SIGNAL_PX
from pipelines.pages.fair.compare import words as compare_words
from pipelines.pages.fair.compare.frames import NamedRow
from pipelines.pages.fair.compare.read import UNIT, CompareData, Funnel
from pipelines.reading.small_numbers import SMALL
from pipelines.statistics import funnel
from pipelines.words import of_numbers

# Fixed, so that it can be drawn inside a block that is closed and has no width yet.
WIDTH_PX: Final = 330
HEIGHT_PX: Final = 230
FEWEST_DRAWN: Final = 5
GRID: Final = 40
MOST_NAMED: Final = 4
LETTER_PX: Final = 6.3
SIZES: Final = {"value": 90, "other": 60, "outside": SIGNAL_PX}  # meaning of a shape -> px
DROPS: Final = (0, -13, 13)  # px below its point where a label may stand, best first


def drawn(one: Funnel) -> pd.DataFrame:
    """Return the points that are drawn: of five newborns or more."""
    rows = one.points
    # The only unit of a store is the centre itself.
    alone = (rows["kind"] == UNIT) & (one.units < 2)
    return rows[(rows["counted"] >= FEWEST_DRAWN) & ~alone].reset_index(drop=True)


def _across(points: pd.DataFrame) -> list[float]:
    """Return the span of newborns."""
    most = max(float(points["counted"].max()), 50.0)
    return [min(float(points["counted"].min()), 20.0) * 0.8, most * 1.5]


def _axis(one: Funnel, points: pd.DataFrame, across: list[float]) -> Fitted:
    """Return the axis that holds the points, and of the limits most."""
    limits = funnel.binomial_limits(one.centre, [max(40.0, across[0])], funnel.OUTER).ravel()
    return fitted(
        [100 * float(rate) for rate in (*points["rate"], one.centre)], 100 * np.array(limits)
    )


def _limits(one: Funnel, across: list[float], axis: Fitted) -> pd.DataFrame:
    """Return the limits along the axis, in percent and kept inside the plot."""
    of = np.unique(np.round(np.geomspace(max(across[0], 1.0), across[1], GRID)))
    at = (*funnel.OUTER, *funnel.INNER)
    found = funnel.binomial_limits(one.centre, of, at)
    if one.spread is not None and one.spread.tau2_winsor > 0:
        found = funnel.widened(found, one.centre, of, one.spread.tau2_winsor)
    inside = np.clip(100 * found, axis.low, axis.high).round(2)
    names = ("outer_low", "outer_high", "inner_low", "inner_high")
    return pd.DataFrame({"of": of, **dict(zip(names, inside, strict=True))})


def _x(field: str, across: list[float]) -> alt.X:
    axis = alt.Axis(
        values=[one for one in (10, 30, 100, 300, 1000, 3000, 10000, 30000) if one <= across[1]],
        format=",d",
        title="newborns",
        titleAnchor="end",
        titlePadding=2,
        labelOverlap=True,
    )
    scale = alt.Scale(type="log", domain=across, nice=False, clamp=True)
    return alt.X(f"{field}:Q", scale=scale, axis=axis)


def _y(field: str, axis: Fitted) -> alt.Y:
    return percents.up(field, axis, (HEIGHT_PX, 0))


def _funnel(one: Funnel, across: list[float], axis: Fitted) -> list[alt.Chart]:
    base = alt.Chart(_limits(one, across, axis)).encode(x=_x("of", across))
    area = base.mark_area(color=LIGHT["tint"], opacity=1).encode(
        y=_y("outer_low", axis), y2=alt.Y2("outer_high:Q")
    )
    lines = [
        base.mark_line(color=LIGHT["quiet"], strokeWidth=1, strokeDash=list(dash)).encode(
            y=_y(name, axis)
        )
        for dash, names in (
            ((1, 0), ("outer_low", "outer_high")),
            ((2, 3), ("inner_low", "inner_high")),
        )
        for name in names
    ]
    centre = pd.DataFrame({"at": [100 * one.centre]})
    middle = alt.Chart(centre).mark_rule(color=LIGHT["ink"], strokeWidth=1)
    return [area, *lines, middle.encode(y=_y("at", axis))]


def _in_px(points: pd.DataFrame, across: list[float], axis: Fitted) -> pd.DataFrame:
    """Return the points with their place on the plot, ``x_px`` and ``y_px``."""
    start, end = np.log(across[0]), np.log(across[1])
    x = WIDTH_PX * (np.log(points["counted"]) - start) / (end - start)
    y = HEIGHT_PX * (axis.high - points["percent_met"]) / (axis.high - axis.low)
    return points.assign(x_px=x, y_px=y)


class _Place(NamedTuple):
    """Where a label stands: right (1) or left (-1) of its point, and how many px below it."""

    row: NamedRow
    side: int
    drop: int


def _places(named: pd.DataFrame, points: pd.DataFrame) -> list[_Place]:
    """Return where each label stands, first come first served; one that fits nowhere is left out.

    ``named``: label, x_px, y_px, in order of need; ``points``: what no label may cover. A label's
    width goes by a rough width of a letter; the table has every name.
    """
    taken: list[tuple[float, ...]] = [
        (x - 5, y - 5, x + 5, y + 5) for x, y in zip(points["x_px"], points["y_px"], strict=True)
    ]
    places = []
    for row in rows_of(named, NamedRow):
        x, y, wide = row["x_px"], row["y_px"], LETTER_PX * len(row["label"])
        for side, drop in ((side, drop) for drop in DROPS for side in (1, -1)):
            left = x + 8 if side > 0 else x - 8 - wide
            box = (left, y + drop - 7, left + wide, y + drop + 7)
            is_inside = box[0] >= 0 and box[2] <= WIDTH_PX and box[1] >= 0 and box[3] <= HEIGHT_PX
            if is_inside and not any(_touch(box, other) for other in taken):
                taken.append(box)
                places.append(_Place(row, side, drop))
                break
    return places


def _touch(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    apart = one[2] < other[0] or other[2] < one[0] or one[3] < other[1] or other[3] < one[1]
    return not apart


def _named(points: pd.DataFrame, across: list[float], axis: Fitted) -> list[alt.Chart]:
    """Return the words beside units and beside what lies outside, where there is room."""
    is_unit = points["kind"] == UNIT
    outside = points[points["lies"].isin(["above", "below"]) & ~is_unit]
    named = pd.concat([points[is_unit].head(MOST_NAMED), outside], ignore_index=True)
    marks = []
    for place in _places(_in_px(named, across, axis), _in_px(points, across, axis)):
        row = place.row
        at = pd.DataFrame({"counted": [row["counted"]], "percent_met": [row["percent_met"]]})
        look: dict[str, Any] = {
            "align": "left" if place.side > 0 else "right",
            "baseline": "middle",
            "dx": 8 * place.side,
            "dy": place.drop,
            # They are placed for the fitted axis; on the whole one points lie close together.
            **({} if axis.is_whole else {"opacity": alt.ExprRef(f"{percents.WHOLE} ? 0 : 1")}),
        }
        words = alt.TextValue(row["label"])
        marks += [
            text.encode(x=_x("counted", across), y=_y("percent_met", axis), text=words)
            for text in (alt.Chart(at).mark_text(**look, **HALO), alt.Chart(at).mark_text(**look))
        ]
    return marks


def _meanings(points: pd.DataFrame) -> "pd.Series[str]":
    """Say what the shape of each point means: a unit, another group, or outside the limits."""
    is_unit = points["kind"] == UNIT
    meanings = is_unit.map({True: "value", False: "other"})
    return meanings.mask(points["lies"].isin(["above", "below"]), "outside")


def _told(data: CompareData, points: pd.DataFrame) -> pd.DataFrame:
    """Return what is drawn of each point, with its words for whoever points at it."""
    limits = points.assign(lower=points["limit_low"], upper=points["limit_high"])
    return pd.DataFrame(
        {
            "kind": points["kind"],
            "lies": points["lies"],
            "meaning": _meanings(points),
            "counted": points["counted"],
            "percent_met": (100 * points["rate"]).round(2),
            "label": [
                compare_words.name_of(data, str(kind), str(name))
                for kind, name in zip(points["kind"], points["name"], strict=True)
            ],
            "n of N": of_numbers.fractions(points),
            "Percent": [of_numbers.percent(rate) for rate in points["rate"]],
            "Limits": of_numbers.intervals(limits),
        }
    )


def funnel_chart(data: CompareData, one: Funnel) -> alt.LayerChart:
    """Chart one measure's units and groups in their funnel; open marks are small numbers."""
    chosen = drawn(one)
    across = _across(chosen)
    axis = _axis(one, chosen, across)
    points = _told(data, chosen)
    marks = _funnel(one, across, axis)
    told = [alt.Tooltip("label:N", title="Of"), *tips("n of N", "Percent", "Limits")]
    for meaning, size in SIZES.items():
        tone = LIGHT["attention" if meaning == "outside" else "data"]
        fill = alt.condition(f"datum.counted < {SMALL}", alt.value(LIGHT["paper"]), alt.value(tone))
        chosen = points[points["meaning"] == meaning].drop(columns=["kind", "lies", "meaning"])
        dots = alt.Chart(chosen).mark_point(
            shape=SHAPES[meaning], size=size, stroke=tone, opacity=1
        )
        x, y = _x("counted", across), _y("percent_met", axis)
        marks.append(dots.encode(x=x, y=y, fill=as_channel(alt.FillValue, fill), tooltip=told))
    foot = HEIGHT_PX + (percents.SIGN_PX if axis.is_broken else 0)
    return whole(
        [*marks, *_named(points, across, axis), *percents.sign(axis, HEIGHT_PX)],
        foot,
        compare_words.chart_text(data, one),
        width=WIDTH_PX,
        settings=percents.setting(axis),
        read="both",
    )
