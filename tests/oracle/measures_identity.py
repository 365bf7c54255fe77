"""The measures of identity, recomputed from the prose of their headers."""

from fractions import Fraction

from .care import done, first_minute, listed, not_done_reasons
from .engine import Facts, Setting
from .reader import Newborn


def _leaves(newborn: Newborn, setting: Setting) -> Fraction | None:
    """The limit: leaving the room; where nobody leaves one, two hours or leaving the unit."""
    name = "leave_birth_room_minutes"
    leaves: Fraction | None = newborn.get(name)
    if leaves is not None or not setting.is_on("one_room") or name in newborn.admission.unusable:
        return leaves
    home, most = newborn.get("discharge_minutes"), setting["one_room_at_most"]
    return most if home is None else min(most, home)


def two_bands(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Bands and their check, both by the minute of leaving the birth room."""
    kinds = ["two_bands"] + ["band_check"] * setting.is_on("require_band_check")
    needed = [newborn.of_kind("care", kind) for kind in kinds]
    firsts = [first_minute(done(rows)) for rows in needed]
    known = [first for first in firsts if first is not None]
    is_timed = len(known) == len(needed)
    leaves = _leaves(newborn, setting)
    reasons = [reason for rows in needed for reason in not_done_reasons(rows)]
    left_out = [reason for rows in needed if not done(rows) for reason in not_done_reasons(rows)]
    return [
        Facts(
            is_documented=all(needed),
            is_usable=is_timed and leaves is not None,
            exception=listed(reasons, {"emergency_move"}),
            not_done=tuple(left_out),
            minutes=max(known) if is_timed else None,
            due_minutes=leaves,
            # Of a leaving nobody timed only what held from the start was surely before.
            closes_minutes=Fraction(1) if leaves is None else leaves,
        )
    ]
