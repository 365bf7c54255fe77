"""Charts for rare events: how many births, or how many days, lie between one and the next.

Where an event comes less than once a month, a monthly share is mostly zeros and says little.
Counting from event to event uses every birth, and a longer gap is better.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipelines.statistics.sigma import Array

# Nelson 1994: the power that makes exponential times nearly normal, 1 / 3.6.
NELSON_POWER: Final = 0.2777


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


def to_nelson(times: ArrayLike) -> Array:
    """Raise times, 0 or more, to the power 0.2777, which makes exponential times nearly normal."""
    return np.asarray(np.asarray(times, float) ** NELSON_POWER)


def from_nelson(values: ArrayLike) -> Array:
    """Turn transformed values back into times; what lies below 0 is 0."""
    return np.asarray(np.maximum(np.asarray(values, float), 0) ** (1 / NELSON_POWER))
