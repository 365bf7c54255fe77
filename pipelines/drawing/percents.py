"""The axis of percentages: fitted to what is drawn, with a sign where it does not begin at zero.

A page may draw every such axis from 0 to 100 % at once: each chart carries the parameter
``WHOLE``, and ``draw.js`` sets it. Bounds and steps are the project's own, no published source.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import altair as alt
import pandas as pd

from pipelines.drawing.layers import x_px, y_px
from pipelines.drawing.theme import LIGHT, SHAPES
from pipelines.words.of_numbers import is_missing

WHOLE: Final = "whole"  # parameter of a chart: true draws 0 to 100 %
ALL: Final = (0, 25, 50, 75, 100)
LEAST: Final = 10.0  # points that an axis spans at least
ROOM: Final = 0.02  # of the span, beyond the outermost value
MOST_STEPS: Final = 5
STEPS: Final = ((2.0, 2.0), (5.0, 5.0), (10.0, 5.0), (20.0, 10.0))  # a step, what its ends are in
NEAR_ZERO: Final = 0.5  # of the span: an axis that begins lower begins at zero
WORDS_PX: Final = 42  # left of the plot, for "100 %": the page may draw that later
SIGN_PX: Final = 15  # height of the sign and its words


@dataclass(frozen=True)
class Fitted:
    """An axis of percentages: its two ends and its ticks, in percent."""

    low: float
    high: float
    ticks: tuple[float, ...]

    @property
    def is_broken(self) -> bool:
        return self.low > 0

    @property
    def is_whole(self) -> bool:
        return (self.low, self.high) == (0.0, 100.0)


def _known(values: Iterable[Any]) -> list[float]:
    return [float(one) for one in values if not is_missing(one)]


def fitted(held: Iterable[Any], reached: Iterable[Any] = ()) -> Fitted:
    """Return the axis that holds every value of ``held``, in percent; at least 10 points tall.

    ``reached``, limits and intervals, is held as far as it lies within half a span more on either
    side: a wide doubt must not flatten the months. Missing values are left out.

    >>> fitted([62, 91, 95])
    Fitted(low=60.0, high=100.0, ticks=(60.0, 70.0, 80.0, 90.0, 100.0))
    """
    values = _known(held) or [0.0, 100.0]
    low, high = min(values), max(values)
    more = max(high - low, LEAST) / 2
    outer = [max(min(one, high + more), low - more) for one in _known(reached)]
    low, high = min([low, *outer]), max([high, *outer])
    room = max(ROOM * (high - low), (LEAST - (high - low)) / 2)
    # Both ends stay between 0 and 100, and the least span apart.
    low = max(0.0, min(low - room, 100 - LEAST))
    high = min(100.0, max(high + room, LEAST))
    return _stepped(0.0 if low <= NEAR_ZERO * (high - low) else low, high)


def _stepped(low: float, high: float) -> Fitted:
    """Move both ends outward to round numbers; the smallest step that gives few enough ticks."""
    step, grain = next(one for one in STEPS if (high - low) / one[0] <= MOST_STEPS)
    low = math.floor(low / grain + 1e-9) * grain
    high = min(100.0, math.ceil(high / grain - 1e-9) * grain)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return Fitted(low, high, tuple(step * number for number in range(first, last + 1)))


def _either(whole: float, own: float) -> Any:
    return whole if whole == own else alt.ExprRef(f"{WHOLE} ? {whole} : {own:g}")


def _scale(axis: Fitted, ends: Sequence[Any] | None) -> alt.Scale:
    domain = [_either(0, axis.low), _either(100, axis.high)]
    span: dict[str, Any] = {} if ends is None else {"range": list(ends)}
    # Limits and intervals that reach further end at the edge.
    return alt.Scale(domain=domain, nice=False, zero=False, clamp=True, **span)


def _ticks(axis: Fitted) -> Any:
    if axis.is_whole:
        return list(ALL)
    own = ",".join(f"{one:g}" for one in axis.ticks)
    return alt.ExprRef(f"{WHOLE} ? {list(ALL)} : [{own}]")


def up(field: str, axis: Fitted, ends: tuple[float, float] | None = None) -> alt.Y:
    """Return the upright axis; ``ends``: the px of its foot and its top, else the plot's own."""
    lines = alt.Axis(
        values=_ticks(axis),
        labelExpr="datum.value + ' %'",
        title=None,
        orient="left",
        minExtent=WORDS_PX,
    )
    return alt.Y(f"{field}:Q", scale=_scale(axis, ends), axis=lines)


def setting(axis: Fitted) -> dict[str, bool]:
    """Return what a chart with this axis lets the page set."""
    return {} if axis.is_whole else {WHOLE: False}


def along(field: str, axis: Fitted, ends: tuple[str, str], look: Mapping[str, Any]) -> alt.X:
    """Return the level axis between two ends, the library's expressions for px.

    It has as many ticks as there is room for their words.
    """
    room = f"({ends[1]} - {ends[0]}) / {WORDS_PX + 16}"
    own, all_ = _by_room(axis.ticks, room), _by_room(ALL, room)
    ticks = alt.ExprRef(all_ if axis.is_whole else f"{WHOLE} ? {all_} : {own}")
    scale = _scale(axis, [alt.ExprRef(end) for end in ends])
    return alt.X(
        f"{field}:Q",
        scale=scale,
        axis=alt.Axis(values=ticks, **look),
    )


def _by_room(ticks: Sequence[float], room: str) -> str:
    """Return the expression of all ticks, of every second, or of both ends."""
    second, outer = ticks[::-1][::2][::-1], (ticks[0], ticks[-1])
    every, fewer, least = (
        "[" + ",".join(f"{one:g}" for one in some) + "]" for some in (ticks, second, outer)
    )
    return f"({room} >= {len(ticks)} ? {every} : {room} >= {len(second)} ? {fewer} : {least})"


def sign(axis: Fitted, floor: float) -> list[alt.Chart]:
    """Return the break beneath the foot of an upright axis, ``floor`` px down, and its words."""
    return broken(axis, floor + SIGN_PX / 2, 0, 0) if axis.is_broken else []


def broken(axis: Fitted, at: float, x: Any, angle: int) -> list[alt.Chart]:
    """Return a break of an axis, ``at`` px down at ``x``, with its words at the left.

    They say at what the axis begins; both go where it is drawn from 0 to 100 %.
    """
    look: dict[str, Any] = {"opacity": alt.ExprRef(f"{WHOLE} ? 0 : 1")}
    place = pd.DataFrame({"nothing": [0]})
    zigzag = alt.Chart(place).mark_point(
        shape=SHAPES["break"],
        size=160,
        angle=angle,
        filled=False,
        stroke=LIGHT["ink"],
        strokeWidth=1.3,
        **look,
    )
    text = alt.Chart(place).mark_text(align="left", baseline="middle", color=LIGHT["quiet"], **look)
    words = alt.TextValue(f"axis from {axis.low:g} %, not 0")
    return [
        zigzag.encode(x=x_px(x), y=y_px(at)),
        text.encode(x=x_px(0 if angle else 9), y=y_px(at), text=words),
    ]
