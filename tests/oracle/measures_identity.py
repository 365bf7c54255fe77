"""The measures of identity, recomputed from the prose of their headers."""

from fractions import Fraction

from .care import done, first_minute, listed, not_done_reasons
from .engine import Facts, Setting
from .reader import Newborn


def two_bands(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Bands and their check, both by the minute of leaving the birth room."""
    kinds = ["two_bands"] + ["band_check"] * setting.is_on("require_band_check")
    needed = [newborn.of_kind("care", kind) for kind in kinds]
    firsts = [first_minute(done(rows)) for rows in needed]
    known = [first for first in firsts if first is not None]
    is_timed = len(known) == len(needed)
    leaves: Fraction | None = newborn.get("leave_birth_room_minutes")
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
