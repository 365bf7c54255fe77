"""Time until something happened, where some were never seen to have it: Kaplan and Meier.

A newborn whose minutes are known had the event then; any other was watched, without it on
record, until its last minute (it is "censored" there). The method takes the latter to be like
those who are still waiting. With records that is doubtful: nobody chose at random whose care
went undocumented. So ``share_by`` stands beside every curve: how many of all had the event on
record by a minute.
"""

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from pipelines.statistics.intervals import LEVEL, wilson

COLUMNS: Final = ("time", "at_risk", "events", "survival", "se", "lower", "upper")
NOBODY: Final = "nobody"
NO_EVENT: Final = "no_event"
ONE_GROUP: Final = "one_group"
NEVER_TOGETHER: Final = "never_together"


@dataclass(frozen=True)
class Curve:
    """Survival: the share still without the event. ``steps`` has one row per time of an event.

    ``steps``: time, at_risk (just before it), events, survival, se (Greenwood), lower, upper
    (log-log scale; nan once nobody is left without the event). ``median``: the first time by
    which half had it; None where fewer than half are seen to. ``reason`` says why there is no
    step: nobody, or no event.
    """

    newborns: int
    events: int
    steps: pd.DataFrame
    median: float | None
    reason: str | None


@dataclass(frozen=True)
class Compared:
    """The log-rank test; ``chi2`` and ``p_value`` are None where ``reason`` says why."""

    chi2: float | None
    p_value: float | None
    groups: int
    reason: str | None


def _watched(times: ArrayLike, observed: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """Return times and whether the event was seen. Raises ValueError on what is no time."""
    minutes = np.atleast_1d(np.asarray(times, float))
    seen = np.atleast_1d(np.asarray(observed)).astype(bool)
    if minutes.shape != seen.shape or minutes.ndim != 1:
        raise ValueError(f"{minutes.size} times for {seen.size} newborns: give one for each.")
    if not np.isfinite(minutes).all() or (minutes < 0).any():
        raise ValueError("a time must be a number of minutes from nought on.")
    return minutes, seen


def curve(times: ArrayLike, observed: ArrayLike, level: float = LEVEL) -> Curve:
    """Return the Kaplan-Meier curve (J Am Stat Assoc 1958;53:457) of one group.

    ``times``: when the event was, or until when a newborn was watched; ``observed``: whether the
    event was seen. A newborn whose watch ends in the minute of an event counts as at risk then.
    Limits are on the log-log scale, as in scipy; the table is statsmodels'.
    """
    minutes, seen = _watched(times, observed)
    if not seen.any():
        reason = NO_EVENT if len(minutes) else NOBODY
        return Curve(len(minutes), 0, pd.DataFrame(columns=COLUMNS, dtype=float), None, reason)
    steps = _steps(minutes, seen, level)
    reached = steps.loc[steps["survival"] <= 0.5 + 1e-12, "time"]
    median = float(reached.iloc[0]) if len(reached) else None
    return Curve(len(minutes), int(seen.sum()), steps, median, None)


def _steps(minutes: np.ndarray, seen: np.ndarray, level: float) -> pd.DataFrame:
    from scipy.stats import CensoredData, ecdf
    from statsmodels.duration.survfunc import SurvfuncRight

    # Once a curve ends at nought its limits are undefined: both libraries warn of it.
    with warnings.catch_warnings(), np.errstate(divide="ignore", invalid="ignore"):
        warnings.simplefilter("ignore", RuntimeWarning)
        table = SurvfuncRight(minutes, seen)
        sf = ecdf(CensoredData.right_censored(minutes, ~seen)).sf
        limits = sf.confidence_interval(confidence_level=level, method="log-log")
        frame = pd.DataFrame(
            {
                "time": table.surv_times,
                "at_risk": table.n_risk,
                "events": table.n_events,
                "survival": table.surv_prob,
                "se": table.surv_prob_se,
                "lower": limits.low.evaluate(table.surv_times),
                "upper": limits.high.evaluate(table.surv_times),
            }
        )
    none_left = frame["survival"] <= 0
    frame.loc[none_left, ["se", "lower", "upper"]] = np.nan
    return frame.astype({"at_risk": int, "events": int})


def at_risk(times: ArrayLike, at: Sequence[float]) -> list[int]:
    """Return how many were still watched and without the event at each time of ``at``."""
    minutes = np.atleast_1d(np.asarray(times, float))
    return [int((minutes >= one).sum()) for one in at]


def reached(of: Curve, at: float) -> tuple[float, float, float] | None:
    """Return the share that had the event by ``at``, with its limits; None where nobody is.

    Before the first event, and once everybody has had it, both limits are the share itself.
    """
    if not of.newborns:
        return None
    passed = of.steps[of.steps["time"] <= at]
    if passed.empty:
        return 0.0, 0.0, 0.0
    last = passed.iloc[-1]
    if pd.isna(last["lower"]):
        return 1.0, 1.0, 1.0
    return 1 - float(last["survival"]), 1 - float(last["upper"]), 1 - float(last["lower"])


def share_by(
    times: ArrayLike, observed: ArrayLike, at: float, level: float = LEVEL
) -> tuple[int, int, float, float] | None:
    """Return (how many, of how many, lower, upper) had the event seen by ``at``; Wilson limits.

    The plain share: whoever was not seen to have it counts as not having had it. None where
    nobody is there.
    """
    minutes, seen = _watched(times, observed)
    if not len(minutes):
        return None
    had = int((seen & (minutes <= at)).sum())
    lower, upper = wilson(had, len(minutes), level)
    return had, len(minutes), float(lower), float(upper)


def compare(groups: Mapping[Any, tuple[ArrayLike, ArrayLike]]) -> Compared:
    """Compare two or more groups by the log-rank test (Mantel; Peto and Peto 1972).

    ``groups``: name -> (times, observed). Groups without anyone are left out. Where fewer than
    two are left, nobody was seen to have the event, or the groups were never waiting at the same
    time, there is a reason instead of a number.
    """
    from statsmodels.duration.survfunc import survdiff

    checked = {name: _watched(*one) for name, one in groups.items()}
    kept = [one for one in checked.values() if len(one[0])]
    if len(kept) < 2:
        return Compared(None, None, len(kept), ONE_GROUP if kept else NOBODY)
    times, seen = (np.concatenate([one[place] for one in kept]) for place in (0, 1))
    if not seen.any():
        return Compared(None, None, len(kept), NO_EVENT)
    group = np.repeat(np.arange(len(kept)), [len(one[0]) for one in kept])
    try:
        chi2, p_value = survdiff(times, seen.astype(int), group)
    except np.linalg.LinAlgError:  # nobody of one group was waiting when another had an event
        chi2 = p_value = np.nan
    if not np.isfinite(chi2):
        return Compared(None, None, len(kept), NEVER_TOGETHER)
    return Compared(float(chi2), float(p_value), len(kept), None)
