"""The funnel: percent by number of newborns, with what chance allows about all of them."""

from typing import Final, NamedTuple

import altair as alt
import numpy as np
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing.layers import tips, whole
from pipelines.drawing.theme import LIGHT, SHAPES, SIGNAL_PX
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


def _domains(one: Funnel, points: pd.DataFrame) -> tuple[list[float], list[float]]:
    """Return the spans of newborns and of percent, the latter in whole tens."""
    most = max(float(points["counted"].max()), 50.0)
    across = [min(float(points["counted"].min()), 20.0) * 0.8, most * 1.5]
    inner = funnel.binomial_limits(one.centre, [max(40.0, across[0])], funnel.OUTER).ravel()
    low = 100 * min(float(points["rate"].min()), float(inner.min()))
    high = 100 * max(float(points["rate"].max()), float(inner.max()))
    return across, [10 * np.floor(low / 10), 10 * np.ceil(high / 10)]


def _limits(one: Funnel, across: list[float], up: list[float]) -> pd.DataFrame:
    """Return the limits along the axis, in percent and kept inside the plot."""
    of = np.unique(np.round(np.geomspace(max(across[0], 1.0), across[1], GRID)))
    at = (*funnel.OUTER, *funnel.INNER)
    found = funnel.binomial_limits(one.centre, of, at)
    if one.spread is not None and one.spread.tau2_winsor > 0:
        found = funnel.widened(found, one.centre, of, one.spread.tau2_winsor)
    inside = np.clip(100 * found, up[0], up[1]).round(2)
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


def _y(field: str, up: list[float]) -> alt.Y:
    axis = alt.Axis(labelExpr="datum.label + ' %'", title=None, tickCount=5)
    return alt.Y(f"{field}:Q", scale=alt.Scale(domain=up, nice=False), axis=axis)


def _funnel(one: Funnel, across: list[float], up: list[float]) -> list[alt.Chart]:
    base = alt.Chart(_limits(one, across, up)).encode(x=_x("of", across))
    area = base.mark_area(color=LIGHT["tint"], opacity=1).encode(
        y=_y("outer_low", up), y2="outer_high:Q"
    )
    lines = [
        base.mark_line(color=LIGHT["quiet"], strokeWidth=1, strokeDash=list(dash)).encode(
            y=_y(name, up)
        )
        for dash, names in (
            ((1, 0), ("outer_low", "outer_high")),
            ((2, 3), ("inner_low", "inner_high")),
        )
        for name in names
    ]
    centre = pd.DataFrame({"at": [100 * one.centre]})
    middle = alt.Chart(centre).mark_rule(color=LIGHT["ink"], strokeWidth=1)
    return [area, *lines, middle.encode(y=_y("at", up))]


def _in_px(points: pd.DataFrame, across: list[float], up: list[float]) -> pd.DataFrame:
    """Return the points with their place on the plot, ``x_px`` and ``y_px``."""
    start, end = np.log(across[0]), np.log(across[1])
    x = WIDTH_PX * (np.log(points["counted"]) - start) / (end - start)
    y = HEIGHT_PX * (up[1] - points["percent_met"]) / (up[1] - up[0])
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


def _named(points: pd.DataFrame, across: list[float], up: list[float]) -> list[alt.Chart]:
    """Return the words beside units and beside what lies outside, where there is room."""
    is_unit = points["kind"] == UNIT
    outside = points[points["lies"].isin(["above", "below"]) & ~is_unit]
    named = pd.concat([points[is_unit].head(MOST_NAMED), outside], ignore_index=True)
    marks = []
    for place in _places(_in_px(named, across, up), _in_px(points, across, up)):
        row = place.row
        at = pd.DataFrame({"counted": [row["counted"]], "percent_met": [row["percent_met"]]})
        text = alt.Chart(at).mark_text(
            align="left" if place.side > 0 else "right",
            baseline="middle",
            dx=8 * place.side,
            dy=place.drop,
        )
        words = alt.TextValue(row["label"])
        marks.append(text.encode(x=_x("counted", across), y=_y("percent_met", up), text=words))
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
    across, up = _domains(one, chosen)
    points = _told(data, chosen)
    marks = _funnel(one, across, up)
    told = [alt.Tooltip("label:N", title="Of"), *tips("n of N", "Percent", "Limits")]
    for meaning, size in SIZES.items():
        tone = LIGHT["attention" if meaning == "outside" else "data"]
        fill = alt.condition(
            f"datum.counted < {SMALL}", alt.value(LIGHT["paper"]), alt.value(tone)
        )
        chosen = points[points["meaning"] == meaning].drop(columns=["kind", "lies", "meaning"])
        dots = alt.Chart(chosen).mark_point(
            shape=SHAPES[meaning], size=size, stroke=tone, opacity=1
        )
        x, y = _x("counted", across), _y("percent_met", up)
        marks.append(dots.encode(x=x, y=y, fill=fill, tooltip=told))
    return whole(
        [*marks, *_named(points, across, up)],
        HEIGHT_PX,
        compare_words.chart_text(data, one),
        width=WIDTH_PX,
        read="both",
    )
