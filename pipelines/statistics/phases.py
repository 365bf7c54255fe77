"""On which periods limits are frozen, and where they begin anew.

The rule. Limits are made from the first twelve periods and then stand still, however many
periods follow. They begin anew in two places only.

* At a date of policy, at once: a measure with other numbers is another measure. Until twelve
  periods lie after it, those are a run chart without limits.
* At a change in the unit's log, only when at least six periods lie before it and at least
  twelve lie between it and the next break. Until then the limits made before the change run on
  through it, so that its effect shows as signals. Afterwards both phases are drawn, and the
  twelve periods that make the new limits stay judged by the old ones as well: to re-base never
  takes away a signal of the change.

Why not re-base at once: limits made from the months after a change declare those months usual
by construction, and an effect would vanish in the month in which it was recorded. Why re-base
at all: beyond a lasting change every month would signal for ever, and a new fall back be lost.

A baseline never reaches across a recorded change. Where fewer than six periods lie before one,
the change cannot be judged; the limits begin at it.
"""

from dataclasses import dataclass, replace
from typing import Final

import pandas as pd

from pipelines.statistics.reasons import (
    CHANGE_TOO_EARLY,
    CHANGE_TOO_RECENT,
    CHANGES_CANNOT_BE_PLACED,
    Reason,
)

POINTS_AT_LEAST: Final = 12  # fewer: a run chart only; and what makes a full baseline
BASELINE_AT_LEAST: Final = 6

START: Final = "start"
POLICY: Final = "policy"
CHANGE: Final = "change"


@dataclass(frozen=True)
class Phase:
    """Places in the sequence of periods, last ones excluded.

    ``first`` to ``stop``: the phase's own periods; its baseline begins at ``first`` and ends
    before ``baseline_stop``; its limits judge up to ``judged_stop``, beyond ``stop`` where a
    recorded change re-based them. ``start_on``: the date of the break, or of the first period.
    """

    first: int
    stop: int
    baseline_stop: int
    judged_stop: int
    reason: str
    start_on: pd.Timestamp | None

    @property
    def baseline(self) -> int:
        return self.baseline_stop - self.first

    @property
    def judged(self) -> int:
        return self.judged_stop - self.first

    @property
    def has_limits(self) -> bool:
        """Whether there are enough periods for limits."""
        return self.baseline >= BASELINE_AT_LEAST and self.judged >= POINTS_AT_LEAST


@dataclass(frozen=True)
class _Mark:
    at: int
    kind: str
    start_on: pd.Timestamp


def _marks(starts: pd.Series, breaks: pd.DataFrame) -> list[_Mark]:
    """Place each break before the first period that begins in its month or later.

    A break before all periods or after the last divides nothing. Of two at one place the
    policy counts, else the earlier.
    """
    by_place: dict[int, _Mark] = {}
    ordered = breaks.sort_values("start_on")
    for day, kind in zip(ordered["start_on"], ordered["kind"], strict=True):
        start_on = pd.Timestamp(day)
        month = start_on.to_period("M").to_timestamp()
        at = int((starts < month).sum())
        if not 0 < at < len(starts):
            continue
        mark = _Mark(at, str(kind), start_on)
        known = by_place.get(at)
        if known is None or (known.kind != POLICY and mark.kind == POLICY):
            by_place[at] = mark
    return [by_place[at] for at in sorted(by_place)]


def _within(
    first: int, stop: int, reason: str, start_on: pd.Timestamp | None, changes: list[_Mark]
) -> tuple[list[Phase], list[Reason]]:
    """Cut one stretch without a date of policy at its recorded changes."""
    phases, reasons = [], []
    ends = [mark.at for mark in changes[1:]] + [stop] if changes else []
    current = _open(first, stop, reason, start_on, changes)
    for mark, end in zip(changes, ends, strict=True):
        before, after = mark.at - current.first, end - mark.at
        if before < BASELINE_AT_LEAST:
            reasons.append(Reason(CHANGE_TOO_EARLY, mark.start_on, before, BASELINE_AT_LEAST))
            phases.append(replace(current, stop=mark.at, judged_stop=mark.at))
        elif after < POINTS_AT_LEAST:
            reasons.append(Reason(CHANGE_TOO_RECENT, mark.start_on, after, POINTS_AT_LEAST))
            continue
        else:
            phases.append(replace(current, stop=mark.at, judged_stop=mark.at + POINTS_AT_LEAST))
        later = [other for other in changes if other.at > mark.at]
        current = _open(mark.at, stop, CHANGE, mark.start_on, later)
    return [*phases, current], reasons


def _open(
    first: int, stop: int, reason: str, start_on: pd.Timestamp | None, later: list[_Mark]
) -> Phase:
    """Begin a phase; its baseline ends before the next recorded change."""
    cut = later[0].at if later else stop
    return Phase(first, stop, min(first + POINTS_AT_LEAST, cut), stop, reason, start_on)


def plan(starts: pd.Series, breaks: pd.DataFrame) -> tuple[list[Phase], list[Reason]]:
    """Lay the phases over the periods, by the rule of this module.

    ``starts``: the first day of each period, in order, at least one; ``breaks``: start_on and
    kind (``policy`` or ``change``). Births without months have no place for a break: one phase.
    """
    if starts.isna().any():
        whole = _open(0, len(starts), START, None, [])
        placed = Reason(CHANGES_CANNOT_BE_PLACED, None, len(breaks))
        return [whole], [placed] if len(breaks) else []
    marks = _marks(starts, breaks)
    policies = [mark for mark in marks if mark.kind == POLICY]
    edges = [0, *(mark.at for mark in policies), len(starts)]
    opened = [(START, pd.Timestamp(starts.iloc[0])), *((POLICY, m.start_on) for m in policies)]
    phases: list[Phase] = []
    reasons: list[Reason] = []
    for place, (reason, start_on) in enumerate(opened):
        first, stop = edges[place], edges[place + 1]
        changes = [m for m in marks if m.kind != POLICY and first < m.at < stop]
        found, why = _within(first, stop, reason, start_on, changes)
        phases, reasons = phases + found, reasons + why
    return phases, reasons
