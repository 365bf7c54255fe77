"""The axis of a measured value: degrees, or minutes; fitted to what is drawn.

Degrees have no zero that means nothing is there, so their axis does not begin at it and bears no
sign; minutes begin at 0 where that costs no more than half the height, as percentages do.
"""

from collections.abc import Iterable
from typing import Any, Final

import altair as alt

from pipelines.words.of_numbers import is_missing

ROOM: Final = 0.08  # of the span, beyond the outermost value
LEAST: Final = {"°C": 0.4, "min": 10.0}  # that an axis spans at least, in its unit
NEAR_ZERO: Final = 0.5  # of the span: an axis of minutes that begins lower begins at 0
TICKS: Final = 5


def ends(held: Iterable[Any], unit: str) -> tuple[float, float]:
    """Return the ends of an axis that holds every value; missing values are left out.

    >>> ends([36.5, 36.7], "°C")
    (36.4, 36.8)
    >>> ends([12.0, 40.0], "min")
    (0.0, 42.24)
    """
    values = [float(one) for one in held if not is_missing(one)] or [0.0, 1.0]
    low, high = min(values), max(values)
    short = max(LEAST.get(unit, 0.0) - (high - low), 0.0) / 2
    low, high = low - short, high + short
    room = ROOM * (high - low) if not short else 0.0
    low, high = low - room, high + room
    if unit == "min" and low < NEAR_ZERO * (high - low):
        low = 0.0
    return round(low, 4), round(high, 4)


def up(field: str, of: tuple[float, float], unit: str, px: tuple[float, float]) -> alt.Y:
    """Return the axis of a value from ``px``, its lower and upper edge, with its unit."""
    scale = alt.Scale(domain=list(of), range=list(px), nice=False, zero=False)
    axis = alt.Axis(title=None, tickCount=TICKS, labelExpr=f"datum.label + ' {unit}'")
    return alt.Y(f"{field}:Q", scale=scale, axis=axis)
