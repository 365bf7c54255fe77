"""A newborn's way, as DEVELOPERS.md tells it, and what it does to an event that somebody owns."""

from collections.abc import Iterable
from fractions import Fraction

from .reader import Newborn, Row

BORN = {"before_arrival": "born on the way", "other_site": "born elsewhere"}
NOT_KNOWN = Fraction(-1)  # it happened, and nobody wrote down when


def is_done(row: Row) -> bool:
    """A care item counts as done by its status, or by a time where the status is blank."""
    status = row.get("status")
    if status is None and "status" not in row.unusable:
        return row.get("minutes") is not None
    return bool(status == "done")


def _first(minutes: Iterable[Fraction | None]) -> Fraction | None:
    """The first known minute; ``NOT_KNOWN`` where there are only unknown ones; None of none."""
    every = list(minutes)
    known = [minute for minute in every if minute is not None]
    return min(known) if known else (NOT_KNOWN if every else None)


def is_brought(newborn: Newborn) -> bool:
    """Whether it was born somewhere else than in this unit."""
    return newborn.get("birth_place") in BORN


def arrival(newborn: Newborn) -> Fraction | None:
    """From when on it was here; None where that is not known."""
    minute: Fraction | None = newborn.get("arrival_minutes")
    return minute if is_brought(newborn) else Fraction(0)


def moved_at(newborn: Newborn) -> Fraction | None:
    """The first move to another unit or level of care; the journey that brought it is none."""
    since = arrival(newborn) if is_brought(newborn) else None
    moves = [row.get("minutes") for row in newborn.of_kind("care", "transfer") if is_done(row)]
    if since is not None:
        moves = [minute for minute in moves if minute is None or minute > since]
    if newborn.get("disposition") == "transfer":
        moves.append(newborn.get("discharge_minutes"))
    return _first(moves)


def died_at(newborn: Newborn) -> Fraction | None:
    """When it died."""
    if newborn.get("disposition") != "died":
        return None
    return _first([newborn.get("discharge_minutes")])


def home_at(newborn: Newborn) -> Fraction | None:
    """When it is known to have gone home: the stay ended, and not by a death or a move."""
    if newborn.get("disposition") in {"died", "transfer"}:
        return None
    minute: Fraction | None = newborn.get("discharge_minutes")
    return minute


def here_until(newborn: Newborn) -> Fraction | None:
    """Until when there was a newborn to be seen, as far as anybody knows."""
    ends = [newborn.get("discharge_minutes"), moved_at(newborn)]
    return min((end for end in ends if end is not None and end != NOT_KNOWN), default=None)


def began(newborn: Newborn, kind: str) -> Fraction | None:
    """When cooling or a plan of comfort began."""
    rows = newborn.of_kind("care", kind)
    return _first(row.get("minutes") for row in rows if row.get("status") != "not_done")


# --- whose event it is -------------------------------------------------------------------------


def not_owned(newborn: Newborn, owner: str, arrived_before: Fraction | None) -> str | None:
    """Why the event is not this unit's; None where it is."""
    if not is_brought(newborn) or owner == "recorded":
        return None
    if owner == "born_here":
        return BORN[newborn.get("birth_place")]
    since = arrival(newborn)
    if since is None:
        is_far = newborn.get("birth_place") == "other_site" and owner == "born_here_or_arrived"
        return "arrival not known" if is_far else None
    return "arrived too late" if arrived_before is not None and since >= arrived_before else None


def _closed_after(minute: Fraction | None, closes: Fraction | None) -> bool:
    """Whether something happened before the window closed; a window that never closes has not."""
    return minute is not None and (closes is None or minute < closes)


def was_left(minute: Fraction | None, closes: Fraction | None, settled: Fraction | None) -> bool:
    """Left before the window closed, and before the record had settled it.

    Whatever was seen was seen before an end whose time is not known.
    """
    if not _closed_after(minute, closes):
        return False
    return settled is None or (minute != NOT_KNOWN and settled > minute)


def was_begun(minute: Fraction | None, closes: Fraction | None, settled: Fraction | None) -> bool:
    """Cooling or comfort care began before the window closed, and not after it was settled."""
    return _closed_after(minute, closes) and (settled is None or settled >= minute)
