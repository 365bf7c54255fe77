"""Intervals of shares, rates, differences and ratios: one home, thin layers on two libraries.

Counts come as numbers or arrays and go out as ``(lower, upper)`` arrays of the same shape. Where
there is nobody (``of`` of nought or missing) both ends are nan, which pages write as a dash.
``level`` is the coverage aimed at, 0.95 for a 95 % interval. Counts may be worth less than whole
newborns (divided by a design effect), so they need not be whole numbers.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]
Bounds = tuple[Numbers, Numbers]
Pair = tuple[ArrayLike, ArrayLike]  # (how many, of how many)
LEVEL: Final = 0.95


def _checked(events: ArrayLike, of: ArrayLike) -> tuple[Numbers, Numbers, NDArray[np.bool_]]:
    """Return both as arrays of one shape, safe to divide by, and where there is anyone.

    Raises ValueError where more happened than could.
    """
    some, every = np.broadcast_arrays(np.asarray(events, float), np.asarray(of, float))
    known = np.isfinite(some) & np.isfinite(every) & (every > 0)
    wrong = known & ((some < 0) | (some > every * (1 + 1e-9)))
    if wrong.any():
        at = tuple(place[0] for place in np.nonzero(np.atleast_1d(wrong)))
        raise ValueError(
            f"{np.atleast_1d(some)[at]:g} of {np.atleast_1d(every)[at]:g}: a count must lie "
            "between nought and the number it is of."
        )
    return np.where(known, some, 0.0), np.where(known, every, 1.0), known


def _shown(lower: ArrayLike, upper: ArrayLike, known: NDArray[np.bool_]) -> Bounds:
    return np.where(known, lower, np.nan), np.where(known, upper, np.nan)


def wilson(events: ArrayLike, of: ArrayLike, level: float = LEVEL) -> Bounds:
    """Return the score interval of a share (Wilson, J Am Stat Assoc 1927;22:209).

    The usual interval of the pages. Exactly 0 where none, and 1 where all, had the event.
    """
    from statsmodels.stats.proportion import proportion_confint

    some, every, known = _checked(events, of)
    lower, upper = proportion_confint(some, every, alpha=1 - level, method="wilson")
    return _shown(np.where(some <= 0, 0.0, lower), np.where(some >= every, 1.0, upper), known)


def garwood(events: ArrayLike, exposure: ArrayLike = 1.0, level: float = LEVEL) -> Bounds:
    """Return the exact interval of a rate of events (Garwood, Biometrika 1936;28:437).

    ``exposure`` is what the events are counted over, such as newborns or hours; the interval is
    per one of it.
    """
    from statsmodels.stats.rates import confint_poisson

    some, span = np.broadcast_arrays(np.asarray(events, float), np.asarray(exposure, float))
    known = np.isfinite(some) & np.isfinite(span) & (span > 0)
    if (known & (some < 0)).any():
        raise ValueError("a count of events must not be below nought.")
    with np.errstate(invalid="ignore", divide="ignore"):  # no event: the lower end has no quantile
        lower, upper = confint_poisson(
            np.where(known, some, 0.0),
            np.where(known, span, 1.0),
            method="exact-c",
            alpha=1 - level,
        )
    return _shown(np.where(some == 0, 0.0, lower), upper, known)


def _two(part: Pair, rest: Pair) -> tuple[list[Numbers], NDArray[np.bool_]]:
    some, of, known = _checked(*part)
    others, others_of, others_known = _checked(*rest)
    arrays = np.broadcast_arrays(some, of, others, others_of, known & others_known)
    return list(arrays[:4]), arrays[4].astype(bool)


def difference(part: Pair, rest: Pair, level: float = LEVEL) -> Bounds:
    """Return lower and upper of the share in ``part`` less that in ``rest``, two separate samples.

    Newcombe's hybrid score interval (Stat Med 1998;17:873, method 10).
    """
    from statsmodels.stats.proportion import confint_proportions_2indep

    counts, known = _two(part, rest)
    lower, upper = confint_proportions_2indep(
        *counts, method="newcomb", compare="diff", alpha=1 - level
    )
    return _shown(lower, upper, known)


def ratio(part: Pair, rest: Pair, level: float = LEVEL) -> Bounds:
    """Return lower and upper of the share in ``part`` over that in ``rest``.

    On the log scale (Katz et al., Biometrics 1978;34:469); missing where either has none.
    """
    from statsmodels.stats.proportion import confint_proportions_2indep

    counts, known = _two(part, rest)
    known &= (counts[0] > 0) & (counts[2] > 0)
    safe = [np.where(known, one, 1.0) for one in counts]
    lower, upper = confint_proportions_2indep(*safe, method="log", compare="ratio", alpha=1 - level)
    return _shown(lower, upper, known)
