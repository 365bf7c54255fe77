"""What several measures ask of care items and of doses."""

from collections.abc import Container, Iterable
from fractions import Fraction

from .reader import Newborn, Row
from .way import home_at, is_done

NO_REASON = "no reason recorded"
UNWELL = ("mother_unwell", "newborn_unstable", "separation")


def done(rows: Iterable[Row]) -> list[Row]:
    """Care items that count as done, with or without a time."""
    return [row for row in rows if is_done(row)]


def may_be_done(rows: Iterable[Row]) -> bool:
    """Whether some row says done, or does not say which: then nobody can call it not done."""
    return any(row.get("status") in {"done", None} for row in rows)


def not_done_reasons(rows: Iterable[Row]) -> list[str]:
    """Why care items recorded as not done were not, in export order."""
    return [row.get("reason") or NO_REASON for row in rows if row.get("status") == "not_done"]


def first_minute(rows: Iterable[Row]) -> Fraction | None:
    """The earliest known time of some rows; what truly came before birth came at birth."""
    known = [row.get("minutes") for row in rows if row.get("minutes") is not None]
    return max(Fraction(0), min(known)) if known else None


def listed(reasons: Iterable[str], those: Container[str]) -> tuple[str, ...]:
    """The reasons that are among those."""
    return tuple(reason for reason in reasons if reason in those)


def has_text(row: Row, column: str) -> bool:
    """Whether something was recorded in a cell, usable or not."""
    return row.get(column) is not None or column in row.unusable


def in_time_order(rows: Iterable[Row]) -> list[Row]:
    """By minute, those without one last; rows of one minute in export order."""
    return sorted(rows, key=lambda row: (row.get("minutes") is None, row.get("minutes") or 0))


def numbered(rows: Iterable[Row]) -> list[tuple[int, int, Row]]:
    """Number rows in the order of time, from 1: (number, first number of that minute, row).

    No prose says which of the rows of one minute comes first.
    """
    found: list[tuple[int, int, Row]] = []
    for item, row in enumerate(in_time_order(rows), start=1):
        is_tied = bool(found) and found[-1][2].get("minutes") == row.get("minutes")
        found.append((item, found[-1][1] if is_tied else item, row))
    return found


def left_before(newborn: Newborn, minute: Fraction) -> bool:
    """Whether the stay ended before a minute, other than by death or transfer.

    Those two end an event in ways of their own.
    """
    left = home_at(newborn)
    return left is not None and left < minute


# --- doses -----------------------------------------------------------------------------------


def given(rows: Iterable[Row]) -> list[Row]:
    """Rows recorded as given, with or without a time."""
    return [row for row in rows if row.get("status") == "given"]


def may_be_given(rows: Iterable[Row]) -> bool:
    """Whether some row says given, or does not say which."""
    return any(row.get("status") in {"given", None} for row in rows)


def reason_of(row: Row) -> str | None:
    """Why a dose was refused or held; None for a row that says neither."""
    if row.get("status") == "refused":
        return "declined"
    return (row.get("reason") or NO_REASON) if row.get("status") == "held" else None


def reasons_of(rows: Iterable[Row]) -> list[str]:
    """Every reason some rows give for a dose not given, in export order."""
    return [reason for row in rows if (reason := reason_of(row))]


def shown_reasons(rows: Iterable[Row]) -> list[str]:
    """Every reason some rows may be shown with: of a refusal its own reason too, if it has one."""
    own = [row.get("reason") for row in rows if row.get("status") == "refused"]
    return reasons_of(rows) + [reason for reason in own if reason is not None]


def was_unstable(newborn: Newborn, until: Fraction) -> bool:
    """Whether some care or medicine was put off in that time because of it."""
    put_off = {("care", "not_done", "newborn_unstable"), ("dose", "held", "unstable")}
    return any(
        (row.table, row.get("status"), row.get("reason")) in put_off
        and (row.get("minutes") is None or row.get("minutes") <= until)
        for row in newborn.events
    )
