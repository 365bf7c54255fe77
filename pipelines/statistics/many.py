"""Many measures, many months: how many signals chance alone would give, and which are strong.

With forty charts of twelve months something always signals. So every list of signals says how
many are expected where nothing changed, stands strongest first, and gives beside each p-value
the one that allows for how many were looked at.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

FALSE_SHARE: Final = 0.05  # of the signals kept, the share that may be false on average
ADDED: Final = ("adjusted", "is_kept", "place")


@dataclass(frozen=True)
class Ranked:
    """``expected`` by chance, ``found``, and the ``signals`` strongest first."""

    expected: float
    found: int
    looked_at: int
    signals: pd.DataFrame


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


def p_of_strength(strength: ArrayLike) -> np.ndarray:
    """Return the two-sided p-value of a strength in standard deviations from the centre.

    >>> [float(p) for p in p_of_strength([1.959963984540054, -3]).round(4)]
    [0.05, 0.0027]
    """
    from scipy.stats import norm

    return np.asarray(2 * norm.sf(np.abs(np.asarray(strength, float))))


def adjusted(p_values: ArrayLike, looked_at: int | None = None) -> np.ndarray:
    """Return p-values adjusted for the false-discovery rate (Benjamini and Hochberg 1995).

    ``looked_at``: how many comparisons were made in all, where ``p_values`` holds only those
    that were kept; the others are taken to be 1, which makes no kept one smaller than it is.
    nan stays nan and counts as a look.
    """
    from scipy.stats import false_discovery_control

    given = np.asarray(p_values, float)
    known = np.isfinite(given)
    if ((given[known] < 0) | (given[known] > 1)).any():
        raise ValueError("a p-value lies between 0 and 1.")
    total = len(given) if looked_at is None else looked_at
    if total < len(given):
        raise ValueError(f"{len(given)} p-values of {total} comparisons: that cannot be.")
    out = np.full(len(given), np.nan)
    if known.any():
        padded = np.concatenate([given[known], np.ones(total - int(known.sum()))])
        out[known] = false_discovery_control(padded, method="bh")[: int(known.sum())]
    return out


def rank(
    signals: pd.DataFrame,
    false_alarm: ArrayLike,
    looks: ArrayLike = 1,
    false_share: float = FALSE_SHARE,
) -> Ranked:
    """Order signals by strength, and say how many chance alone would give.

    ``signals``: one row per signal with ``p_value`` (or ``strength`` in standard deviations, from
    which it follows) and whatever names it. ``false_alarm`` and ``looks`` as in
    ``expected_by_chance``, over everything that was looked at and not only what signalled. Adds
    ``adjusted``, ``is_kept`` (at most ``false_share`` of those kept are false on average) and
    ``place`` (1 the strongest; ties share it). A row without a p-value stands last, not kept.
    """
    expected = expected_by_chance(false_alarm, looks)
    times = np.broadcast_arrays(np.asarray(false_alarm, float), np.asarray(looks, float))[1]
    looked_at = max(round(float(times.sum())), len(signals))
    rows = signals.reset_index(drop=True).copy()
    if "p_value" not in rows:
        rows["p_value"] = p_of_strength(_numbers(rows, "strength"))
    rows["p_value"] = _numbers(rows, "p_value")
    rows["adjusted"] = adjusted(rows["p_value"], looked_at)
    rows["is_kept"] = rows["adjusted"].le(false_share)
    rows["place"] = rows["p_value"].rank(method="min").astype("Int64")
    ordered = rows.sort_values("p_value", kind="stable", na_position="last", ignore_index=True)
    return Ranked(expected, len(rows), looked_at, ordered)


def _numbers(rows: pd.DataFrame, name: str) -> Any:
    if name not in rows:
        raise ValueError("signals need a column 'p_value' or 'strength'.")
    return rows[name].astype(float)
