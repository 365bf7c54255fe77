"""Contact and feeding, recomputed from the prose of their headers."""

from fractions import Fraction

from .care import UNWELL, done, first_minute, listed, may_be_done, not_done_reasons
from .engine import Facts, Setting
from .reader import Newborn, Row

SKIN_CONTACT_REASONS = {"declined", *UNWELL}
CORD_REASONS = {"cord_interrupted", "mother_unwell", "newborn_unstable"}
HELPED = {"ventilation", "compressions"}
BEYOND_INITIAL = "more than the initial steps at birth"


def _skin_contact_exclusion(newborn: Newborn, setting: Setting) -> str | None:
    days = newborn.get("gestational_age_days")
    if days is not None and days < setting["min_gestation_weeks"] * 7:
        return "below the least gestation"
    return BEYOND_INITIAL if newborn.get("resuscitation") in HELPED else None


def skin_contact_start(newborn: Newborn, setting: Setting) -> list[Facts]:
    """First start, within the window of the mode of birth."""
    rows = newborn.of_kind("care", "skin_contact")
    first = first_minute(done(rows))
    reasons = not_done_reasons(rows)
    short, long = setting["vaginal_at_most"], setting["caesarean_at_most"]
    mode = newborn.get("mode_of_birth")
    is_unclear = mode is None and first is not None and short < first <= long
    is_asleep = newborn.get("anaesthesia") == "general"
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first is not None and not is_unclear,
            exclusion=_skin_contact_exclusion(newborn, setting),
            exception=listed(reasons, SKIN_CONTACT_REASONS) + ("general anaesthesia",) * is_asleep,
            not_done=() if done(rows) else tuple(reasons),
            minutes=first,
            due_minutes=short if mode in {"vaginal", "assisted_vaginal"} else long,
        )
    ]


def _held(rows: list[Row], pause: Fraction) -> Fraction | None:
    """How long the first contact lasted, short breaks bridged.

    None where its start is not known, or some end of it: then it stays open.
    """
    timed = [row for row in rows if row.get("minutes") is not None]
    begins = first_minute(timed)
    latest: Fraction | None = None
    for row in sorted(timed, key=lambda row: (row.get("minutes"), row.get("end_minutes") or 0)):
        if latest is not None and row.get("minutes") > latest + pause:
            break
        if row.get("end_minutes") is None:
            return None
        latest = max(row.get("end_minutes"), latest or Fraction(0))
    return None if begins is None or latest is None else latest - begins


def skin_contact_sustained(newborn: Newborn, setting: Setting) -> list[Facts]:
    """How long the first contact lasted, of those whose contact is recorded as begun."""
    rows = newborn.of_kind("care", "skin_contact")
    if not done(rows):
        return []
    lasted = _held(done(rows), setting["pause_minutes"])
    start, hold = first_minute(done(rows)), setting["hold_minutes"]
    is_late = start is not None and start > setting["begun_by_minutes"]
    is_asleep = is_late and newborn.get("anaesthesia") == "general"
    return [
        Facts(
            is_documented=True,
            is_usable=lasted is not None,
            exclusion=_skin_contact_exclusion(newborn, setting),
            exception=listed(not_done_reasons(rows), UNWELL) + ("general anaesthesia",) * is_asleep,
            minutes=lasted,
            # Nobody begins before birth: no window closes before this minute.
            closes_minutes=hold if start is None else start + hold,
            # Over only when a pause has passed since.
            judged_minutes=None
            if start is None or lasted is None
            else start + lasted + setting["pause_minutes"],
            is_met=lasted is not None and lasted >= hold and not is_late,
        )
    ]


def first_feed(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first feed of any kind; not to be fed by order is set apart unless fed all the same."""
    rows = newborn.of_kind("care", "first_feed")
    fed, reasons = done(rows), not_done_reasons(rows)
    days = newborn.get("gestational_age_days")
    exclusion = None
    if days is not None and days < setting["feed_from_weeks"] * 7:
        exclusion = "too early to feed by mouth"
    elif "not_indicated" in reasons and not may_be_done(rows):
        exclusion = "not to be fed by mouth"
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first_minute(fed) is not None,
            exclusion=exclusion,
            exception=listed(reasons, UNWELL),
            not_done=() if may_be_done(rows) else tuple(reasons),
            minutes=first_minute(fed),
        )
    ]


def cord_clamp_deferred(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Seconds to clamping; without a gestation the longer of the two times is asked for."""
    rows = newborn.of_kind("care", "cord_clamp")
    clamped = done(rows)
    seconds = [row.get("quantity") for row in clamped if row.get("quantity") is not None]
    first = min(seconds, default=None)  # a cord is clamped once
    days = newborn.get("gestational_age_days")
    preterm, term = setting["preterm_seconds"], setting["term_seconds"]
    needed = max(preterm, term)
    if days is not None:
        needed = preterm if days < setting["term_from_weeks"] * 7 else term
    reasons = [row.get("reason") for row in rows if row.get("reason") is not None]
    is_helped = newborn.get("resuscitation") in HELPED
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=bool(seconds),
            exception=listed(reasons, CORD_REASONS) + (BEYOND_INITIAL,) * is_helped,
            not_done=() if may_be_done(rows) else tuple(not_done_reasons(rows)),
            minutes=first / 60 if first is not None else None,
            closes_minutes=needed / 60,
            is_met=first is not None and first >= needed,
        )
    ]
