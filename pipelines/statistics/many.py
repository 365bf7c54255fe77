"""Many measures, many months: how many signals chance alone would give.

With forty charts of twelve months something always signals. So every list of signals says how
many are expected where nothing changed.
"""

import numpy as np
from numpy.typing import ArrayLike


def expected_by_chance(false_alarm: ArrayLike, looks: ArrayLike = 1) -> float:
    """Return how many signals come by chance where nothing changed.

    ``false_alarm``: the chance that one look signals falsely, one number or one for each chart;
    ``looks``: how often each was looked at (months). The expectation is right even where charts
    share newborns and so signal together; then they come in clumps.

    >>> round(expected_by_chance(0.0027, 40 * 12), 2)
    1.3
    """
    chance, times = np.broadcast_arrays(np.asarray(false_alarm, float), np.asarray(looks, float))
    if not (np.isfinite(chance).all() and np.isfinite(times).all()):
        raise ValueError("every chart needs its false-alarm probability and its number of looks.")
    if (chance < 0).any() or (chance > 1).any() or (times < 0).any():
        raise ValueError("a false-alarm probability lies between 0 and 1.")
    return float((chance * times).sum())
