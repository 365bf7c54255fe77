"""Charts for rare events: how many births, or how many days, lie between one and the next.

Where an event comes less than once a month, a monthly share is mostly zeros and says little.
Counting from event to event uses every birth, and a longer gap is better.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.stats import geom

from pipelines.statistics.shewhart import Array, xmr_limits

# Nelson 1994: the power that makes exponential times nearly normal, 1 / 3.6.
NELSON_POWER: Final = 0.2777
THREE_SIGMA_TAIL: Final = 0.00135  # one tail of the normal beyond three sigma


def gaps_between(is_event: ArrayLike) -> tuple[NDArray[np.integer], NDArray[np.integer], int]:
    """Count the births between one event and the next.

    ``is_event``: booleans in order of birth. Returns the gaps (births without the event since
    the event before, so 0 for two in a row), the place of the event that closes each gap, and
    the births since the last event. The births before the first event are no gap: nobody knows
    when the one before was; they count only where no event is known at all.
    """
    places = np.flatnonzero(np.asarray(is_event, bool))
    if len(places) == 0:
        return np.array([], int), np.array([], int), len(np.asarray(is_event))
    return np.diff(places) - 1, places[1:], len(np.asarray(is_event)) - int(places[-1]) - 1


def days_between(dates: Sequence[object]) -> NDArray[np.integer]:
    """Return whole days from each event to the next; dates in order, 0 for the same day."""
    days = pd.Series(pd.to_datetime(pd.Series(list(dates)))).diff().dt.days.dropna()
    return days.to_numpy(int)


@dataclass(frozen=True)
class GLimits:
    """Limits for gaps of whole numbers from 0: three sigma, and geometric quantiles."""

    centre: float
    chance_of_event: float
    lower: float
    upper: float
    quantile_lower: float
    quantile_upper: float


def g_limits(gaps: ArrayLike) -> GLimits:
    """Limits of a g chart: mean +- 3 sqrt(mean (mean + 1)), clipped to 0 (Benneyan 2001).

    Gaps begin at 0, so the chance of an event is 1 / (mean + 1), never 1 / mean. The quantiles
    leave 0.00135 in either tail of the geometric distribution.
    """
    mean = float(np.asarray(gaps, float).mean())
    chance = 1 / (mean + 1)
    width = 3 * np.sqrt(mean * (mean + 1))
    law = geom(chance, loc=-1)
    return GLimits(
        centre=mean,
        chance_of_event=chance,
        lower=max(mean - width, 0.0),
        upper=mean + width,
        quantile_lower=float(law.ppf(THREE_SIGMA_TAIL)),
        quantile_upper=float(law.ppf(1 - THREE_SIGMA_TAIL)),
    )


def to_nelson(times: ArrayLike) -> Array:
    """Raise times, 0 or more, to the power 0.2777, which makes exponential times nearly normal."""
    return np.asarray(np.asarray(times, float) ** NELSON_POWER)


def from_nelson(values: ArrayLike) -> Array:
    """Turn transformed values back into times; what lies below 0 is 0."""
    return np.asarray(np.maximum(np.asarray(values, float), 0) ** (1 / NELSON_POWER))


@dataclass(frozen=True)
class TLimits:
    """Limits of times between events, on the transformed and on the time scale.

    ``centre`` is the mean of the transformed times, turned back: it is not their mean.
    """

    transformed: Array
    transformed_centre: float
    transformed_lower: float
    transformed_upper: float
    centre: float
    lower: float
    upper: float


def t_limits(times: ArrayLike) -> TLimits:
    """Limits of a t chart: single values with moving ranges after Nelson's power (1994)."""
    transformed = to_nelson(times)
    chart = xmr_limits(transformed).values
    lower, upper = float(chart.lower[0]), float(chart.upper[0])
    centre, low, high = from_nelson([chart.centre, lower, upper])
    return TLimits(transformed, chart.centre, lower, upper, float(centre), float(low), float(high))
