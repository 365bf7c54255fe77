"""On which periods limits are frozen, and where they begin anew.

The rule. Limits are made from the first twelve periods and then stand still, however many
periods follow. They begin anew in two places only.

* At a date of policy, at once: a measure with other numbers is another measure. Until twelve
  periods lie after it, those are a run chart without limits.
* Where a person has accepted a new level, from the month that person named, once at least six
  periods lie between it and the next break. Until twelve do, the new limits are preliminary.
  Over those twelve the limits before are drawn on, so that what was accepted can be seen.

A change in the unit's log moves no limit. Limits made from the months after a change declare
those months usual by construction: a harm that came with it would fall silent by itself, and so
would an improvement that nobody looked at. Nor does a change shorten a baseline: whoever writes
the log could choose the months that a measure is compared with. A change inside a baseline is
told instead, for its effect then shows smaller than it is; the change study compares before and
after.
"""

from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipelines.statistics.reasons import (
    CHANGE_IN_BASELINE,
    CHANGES_CANNOT_BE_PLACED,
    LEVEL_TOO_SHORT,
    Reason,
)

POINTS_AT_LEAST: Final = 12  # fewer: a run chart only; and what makes a full baseline
BASELINE_AT_LEAST: Final = 6

START: Final = "start"
POLICY: Final = "policy"
CHANGE: Final = "change"  # in the unit's log; told, and no break
ACCEPTED: Final = "accepted"  # a person accepted a new level
BREAKS: Final = (POLICY, ACCEPTED)


@dataclass(frozen=True)
class Phase:
    """Places in the sequence of periods, last ones excluded.

    ``first`` to ``stop``: the phase's own periods; its baseline begins at ``first`` and ends
    before ``baseline_stop``; its limits are drawn up to ``drawn_stop``, beyond ``stop`` where a
    new level was accepted. ``start_on``: the date of the break, or of the first period.
    """

    first: int
    stop: int
    baseline_stop: int
    drawn_stop: int
    reason: str
    start_on: pd.Timestamp | None

    @property
    def baseline(self) -> int:
        return self.baseline_stop - self.first

    @property
    def has_limits(self) -> bool:
        """Whether there are enough periods for limits.

        Six make the baseline of an accepted level, and of what was before one, which is drawn on.
        """
        is_drawn = self.reason == ACCEPTED or self.drawn_stop - self.first >= POINTS_AT_LEAST
        return self.baseline >= BASELINE_AT_LEAST and is_drawn


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
    ordered = breaks.sort_values("start_on", kind="stable")
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


def _long_enough(marks: list[_Mark], stop: int) -> tuple[list[_Mark], list[Reason]]:
    """Leave out accepted levels with fewer than six periods of their own, and say so."""
    kept, reasons = [], []
    for place, mark in enumerate(marks):
        end = marks[place + 1].at if place + 1 < len(marks) else stop
        if mark.kind == ACCEPTED and end - mark.at < BASELINE_AT_LEAST:
            found = end - mark.at
            reasons.append(Reason(LEVEL_TOO_SHORT, mark.start_on, found, BASELINE_AT_LEAST))
        else:
            kept.append(mark)
    return kept, reasons


def _phase(first: _Mark, following: _Mark | None, stop: int) -> Phase:
    """Return the stretch from one break to the next."""
    end = following.at if following else stop
    drawn = end
    if following and following.kind == ACCEPTED:
        drawn = min(end + POINTS_AT_LEAST, stop)
    baseline = min(first.at + POINTS_AT_LEAST, end)
    return Phase(first.at, end, baseline, drawn, first.kind, first.start_on)


def _inside(phases: list[Phase], changes: list[_Mark]) -> list[Reason]:
    """Tell each recorded change that lies among the periods of a baseline."""
    return [
        Reason(CHANGE_IN_BASELINE, mark.start_on, mark.at - phase.first, phase.baseline)
        for phase in phases
        for mark in changes
        if phase.has_limits and phase.first < mark.at < phase.baseline_stop
    ]


def plan(starts: pd.Series, breaks: pd.DataFrame) -> tuple[list[Phase], list[Reason]]:
    """Lay the phases over the periods, by the rule of this module.

    ``starts``: the first day of each period, in order, at least one; ``breaks``: start_on and
    kind (``policy``, ``accepted``, or ``change``, which divides nothing). Births without months
    have no place for a break: one phase.
    """
    if starts.isna().any():
        whole = Phase(0, len(starts), min(POINTS_AT_LEAST, len(starts)), len(starts), START, None)
        placed = Reason(CHANGES_CANNOT_BE_PLACED, None, len(breaks))
        return [whole], [placed] if len(breaks) else []
    is_break = breaks["kind"].isin(BREAKS)
    stop = len(starts)
    marks, reasons = _long_enough(_marks(starts, breaks[is_break]), stop)
    opened = [_Mark(0, START, pd.Timestamp(starts.iloc[0])), *marks]
    phases = [
        _phase(mark, following, stop)
        for mark, following in zip(opened, [*marks, None], strict=True)
    ]
    changes = _marks(starts, breaks[~is_break])
    return phases, [*reasons, *_inside(phases, changes)]
