"""Telling the provider, recomputed from the prose of the headers."""

from fractions import Fraction

from .care import done, first_minute, has_text, numbered
from .engine import Facts, Setting
from .reader import Newborn, Row
from .way import here_until


def _tier(row: Row, setting: Setting) -> int:
    """The tier of an unexpected finding, 0 where it is not on the list.

    The tier of a detail goes before the tier that holds whatever the detail.
    """
    if row.get("as_expected") is not False:
        return 0
    tiers = setting.tiers.get(row.get("kind"), {})
    detail = (row.get("detail") or "").strip().casefold()
    return int(tiers.get(detail, tiers.get("", 0)))


def _was_told(row: Row) -> bool:
    return has_text(row, "told_role") or has_text(row, "told_minutes")


def _counts(row: Row, setting: Setting) -> bool:
    """Whether the role is one that counts; where none are named, every role does."""
    roles = setting.words("told_roles")
    return not roles or (row.get("told_role") or "").strip().casefold() in roles


def finding_escalated(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Each listed finding, from its minute to the minute somebody was told."""
    rows = [row for row in newborn.events if row.table == "finding" and _tier(row, setting)]
    found = []
    for item, tied, row in numbered(rows):
        start, told = row.get("minutes"), row.get("told_minutes")
        due = setting[f"tier_{_tier(row, setting)}_minutes"]
        is_timed = start is not None and told is not None
        found.append(
            Facts(
                item=item,
                tied=tied,
                is_documented=_was_told(row),
                is_usable=is_timed,
                minutes=max(Fraction(0), told - start)
                if is_timed and _counts(row, setting)
                else None,
                due_minutes=due,
                closes_minutes=None if start is None else start + due,
                judged_minutes=told,
            )
        )
    return found


def _nothing_by_limit(
    newborn: Newborn, setting: Setting, limit: Fraction, care_kind: str, finding_kind: str
) -> list[Facts]:
    """Whether somebody was told that something had not come by the limit."""
    left = here_until(newborn)
    came = done(newborn.of_kind("care", care_kind))
    first = first_minute(came)
    if (left is not None and left <= limit) or (first is not None and first <= limit):
        return []
    # One recorded as expected does not say that nothing came.
    findings = [
        row
        for row in newborn.of_kind("finding", finding_kind)
        if row.get("as_expected") is not True
    ]
    told = [row.get("told_minutes") for row in findings if row.get("told_minutes") is not None]
    is_unplaced = any(
        row.get("status") != "not_done" and (row.get("minutes") is None or "status" in row.unusable)
        for row in newborn.of_kind("care", care_kind)
    )
    return [
        Facts(
            is_documented=is_unplaced or any(_was_told(row) for row in findings),
            is_usable=bool(told),
            minutes=max(Fraction(0), min(told) - limit) if told else None,
            closes_minutes=limit + setting["at_most"],
            judged_minutes=min(told, default=None),
        )
    ]


def no_stool_escalated(newborn: Newborn, setting: Setting) -> list[Facts]:
    """No stool by the limit."""
    return _nothing_by_limit(
        newborn, setting, setting["stool_limit_minutes"], "first_stool", "no_stool"
    )


def no_void_escalated(newborn: Newborn, setting: Setting) -> list[Facts]:
    """No void by the limit."""
    return _nothing_by_limit(
        newborn, setting, setting["void_limit_minutes"], "first_void", "no_void"
    )
