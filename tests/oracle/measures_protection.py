"""The prophylaxis measures, recomputed from the prose of their headers."""

from collections.abc import Container, Iterable
from fractions import Fraction

from .engine import Facts, Setting
from .reader import Newborn, Row

NO_REASON = "no reason recorded"
VITAMIN_K_REASONS = {"declined", "contraindicated", "unstable", "oral_chosen", "later"}
EYE_REASONS = {"declined", "contraindicated", "no_stock"}


def given(rows: Iterable[Row]) -> list[Row]:
    """Rows recorded as given, with or without a time."""
    return [row for row in rows if row.get("status") == "given"]


def first_minute(rows: Iterable[Row]) -> Fraction | None:
    """The earliest known time of some rows."""
    known = [row.get("minutes") for row in rows if row.get("minutes") is not None]
    return min(known, default=None)


def reason_of(row: Row) -> str | None:
    """Why a dose was refused or held; None for a row that says neither."""
    if row.get("status") == "refused":
        return "declined"
    return (row.get("reason") or NO_REASON) if row.get("status") == "held" else None


def reasons_of(rows: Iterable[Row]) -> list[str]:
    """Every reason some rows give for a dose not given, in export order."""
    return [reason for row in rows if (reason := reason_of(row))]


def _first_in(reasons: Iterable[str], listed: Container[str]) -> str | None:
    return next((reason for reason in reasons if reason in listed), None)


def vitamin_k(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Vitamin K into a muscle; another route is recorded care that does not meet it."""
    rows = newborn.of_kind("dose", "vitamin_k")
    doses = given(rows)
    minutes = first_minute(row for row in doses if row.get("route") == "intramuscular")
    reasons = reasons_of(rows)
    oral = ["oral_chosen" for row in doses if row.get("route") == "oral"]
    judgeable = [row for row in doses if None not in (row.get("minutes"), row.get("route"))]
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=bool(judgeable),
            exception=_first_in(reasons + oral, VITAMIN_K_REASONS),
            not_done_reason=reasons[0] if reasons and not doses else None,
            minutes=minutes,
        )
    ]


def _eyes_of(row: Row, is_blank_both: bool) -> set[str] | None:
    """The eyes a dose reached; None where route or site do not say."""
    route, site = row.get("route"), row.get("site")
    if route is None:
        return None
    if route != "ophthalmic":
        return set()
    if site is None:
        is_blank = "site" not in row.unusable
        return {"left_eye", "right_eye"} if is_blank_both and is_blank else None
    return {"left_eye", "right_eye"} if site == "both_eyes" else {site} & {"left_eye", "right_eye"}


def eye_ointment(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Both eyes, charted together or apart; done when the second eye is."""
    rows = newborn.of_kind("dose", "eye_antibiotic")
    doses = given(rows)
    is_blank_both = setting.is_on("blank_site_is_both_eyes")
    reached = [(row, _eyes_of(row, is_blank_both)) for row in doses]
    left = first_minute(row for row, eyes in reached if eyes and "left_eye" in eyes)
    right = first_minute(row for row, eyes in reached if eyes and "right_eye" in eyes)
    minutes = None if left is None or right is None else max(left, right)
    is_usable = any(row.get("minutes") is not None and eyes is not None for row, eyes in reached)
    reasons = reasons_of(rows)
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=is_usable,
            exclusion=None if setting.is_on("policy_given") else "not applicable by policy",
            exception=_first_in(reasons, EYE_REASONS),
            not_done_reason=reasons[0] if reasons and not doses else None,
            minutes=minutes,
        )
    ]


# --- hepatitis B ------------------------------------------------------------------------------


def _status_at_reading(newborn: Newborn, setting: Setting) -> str | None:
    """The mother's status as known when it is read; None where it cannot be read."""
    admission = newborn.admission
    if admission.unusable & {"maternal_hepatitis_b", "maternal_hepatitis_b_minutes"}:
        return None
    since = newborn.get("maternal_hepatitis_b_minutes")
    is_known_late = since is not None and since > setting["status_read_minutes"]
    status: str = newborn.get("maternal_hepatitis_b") or "unknown"
    return "unknown" if is_known_late else status


def _hepatitis_b_exclusion(
    status: str | None, is_small: bool | None, setting: Setting
) -> str | None:
    if status != "negative":
        return None
    if not setting.is_on("universal_profile"):
        return "individual decision by policy"
    return "due at one month or discharge" if is_small else None


def _is_excused(rows: list[Row], status: str | None) -> bool:
    reasons = reasons_of(rows)
    return "declined" in reasons or (status == "negative" and "unstable" in reasons)


def hepatitis_b_birth_dose(newborn: Newborn, setting: Setting) -> list[Facts]:
    """All that the mother's status and the weight call for, in time."""
    status = _status_at_reading(newborn, setting)
    weight = newborn.get("weight_g")
    is_small = None if weight is None else weight < setting["small_below_g"]
    is_unclear = status is None or (status != "positive" and is_small is None)
    needs_globulin = status == "positive" or (status == "unknown" and bool(is_small))
    kinds = ["hepatitis_b_vaccine"] + ["hepatitis_b_immune_globulin"] * needs_globulin
    needed = [newborn.of_kind("dose", kind) for kind in kinds]
    due = setting["at_most" if status in {"negative", None} else "exposed_at_most"]
    firsts = [first_minute(given(rows)) for rows in needed]
    missed = [
        rows for rows, first in zip(needed, firsts, strict=True) if first is None or first > due
    ]
    never = [rows for rows in needed if not given(rows)]
    is_not_done = bool(never) and all(reasons_of(rows) for rows in never)
    is_excused = bool(missed) and all(_is_excused(rows, status) for rows in missed)
    known = [first for first in firsts if first is not None]
    return [
        Facts(
            is_documented=all(needed),
            is_usable=len(known) == len(needed) and not is_unclear,
            exclusion=_hepatitis_b_exclusion(status, is_small, setting),
            exception="declined" if is_excused else None,
            not_done_reason=reasons_of(never[0])[0] if is_not_done else None,
            minutes=max(known) if len(known) == len(needed) else None,
            due_minutes=due,
        )
    ]
