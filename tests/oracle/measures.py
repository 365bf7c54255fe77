"""The shipped measures in plain Python, from the prose of their headers alone.

Each function takes one newborn and the numbers in force for it, and returns what the
records say as `Facts`; `engine` turns them into states.
"""

from collections.abc import Callable
from fractions import Fraction

from . import measures_protection as protection
from . import measures_warmth as warmth
from .engine import Facts, Member, Setting, is_done, members_of, read_header, setting_for
from .measures_protection import NO_REASON, first_minute
from .reader import Newborn, Row, UnitExport

SKIN_CONTACT_REASONS = {"declined", "mother_unwell", "newborn_unstable", "separation"}
SIZES = ("weight_g", "length_cm", "head_circumference_cm")


def _done(rows: list[Row]) -> list[Row]:
    return [row for row in rows if is_done(row)]


def _not_done_reasons(rows: list[Row]) -> list[str]:
    return [row.get("reason") or NO_REASON for row in rows if row.get("status") == "not_done"]


def two_bands(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Bands and their check, both by the minute of leaving the birth room."""
    kinds = ["two_bands"] + ["band_check"] * setting.is_on("require_band_check")
    needed = [newborn.of_kind("care", kind) for kind in kinds]
    firsts = [first_minute(_done(rows)) for rows in needed]
    known = [first for first in firsts if first is not None]
    is_timed = len(known) == len(needed)
    leaves: Fraction | None = newborn.get("leave_birth_room_minutes")
    reasons = [reason for rows in needed for reason in _not_done_reasons(rows)]
    left_out = [reason for rows in needed if not _done(rows) for reason in _not_done_reasons(rows)]
    return [
        Facts(
            is_documented=all(needed),
            is_usable=is_timed and leaves is not None,
            exception="emergency_move" if "emergency_move" in reasons else None,
            not_done_reason=left_out[0] if left_out else None,
            minutes=max(known) if is_timed else None,
            due_minutes=leaves,
        )
    ]


def apgar_pair(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Both totals recorded; the exclusions hold up to the fifth minute."""
    scores = ("apgar_1", "apgar_5")
    has_text = [
        newborn.get(name) is not None or name in newborn.admission.unusable for name in scores
    ]
    is_usable = all(newborn.get(name) is not None for name in scores)
    return [
        Facts(
            is_documented=all(has_text),
            is_usable=is_usable,
            closes_minutes=Fraction(5),
            is_met=is_usable,
        )
    ]


def _was_unstable(newborn: Newborn, until: Fraction) -> bool:
    """Whether some care or medicine was put off in that time because of it."""
    put_off = {("care", "not_done", "newborn_unstable"), ("dose", "held", "unstable")}
    return any(
        (row.table, row.get("status"), row.get("reason")) in put_off
        and (row.get("minutes") is None or row.get("minutes") <= until)
        for row in newborn.events
    )


def size_triad(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Weight, length and head; length and head are excused while not stable."""
    until = setting["until_minutes"]
    unusable = newborn.admission.unusable
    has_text = {name: newborn.get(name) is not None or name in unusable for name in SIZES}
    minutes = newborn.get("size_minutes")
    is_usable = "size_minutes" not in unusable and all(
        newborn.get(name) is not None for name in SIZES
    )
    is_half = newborn.get("weight_g") is not None and not all(has_text.values())
    return [
        Facts(
            is_documented=all(has_text.values()),
            is_usable=is_usable,
            exception="newborn_unstable" if is_half and _was_unstable(newborn, until) else None,
            minutes=minutes,
            closes_minutes=until,
            is_met=is_usable and (minutes is None or minutes <= until),
        )
    ]


def _skin_contact_exclusion(newborn: Newborn, setting: Setting) -> str | None:
    days = newborn.get("gestational_age_days")
    if days is not None and days < setting["min_gestation_weeks"] * 7:
        return "below the least gestation"
    if newborn.get("resuscitation") in {"ventilation", "compressions"}:
        return "more than the initial steps at birth"
    return None


def skin_contact_start(newborn: Newborn, setting: Setting) -> list[Facts]:
    """First start, within the window of the mode of birth."""
    rows = newborn.of_kind("care", "skin_contact")
    done = _done(rows)
    first = first_minute(done)
    reasons = _not_done_reasons(rows)
    short, long = setting["vaginal_at_most"], setting["caesarean_at_most"]
    mode = newborn.get("mode_of_birth")
    is_unclear = mode is None and first is not None and short < first <= long
    excused = [reason for reason in reasons if reason in SKIN_CONTACT_REASONS]
    if newborn.get("anaesthesia") == "general":
        excused.append("general anaesthesia")
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first is not None and not is_unclear,
            exclusion=_skin_contact_exclusion(newborn, setting),
            exception=excused[0] if excused else None,
            not_done_reason=reasons[0] if reasons and not done else None,
            minutes=first,
            due_minutes=short if mode in {"vaginal", "assisted_vaginal"} else long,
        )
    ]


MEASURES: dict[str, Callable[[Newborn, Setting], list[Facts]]] = {
    "first_temperature": warmth.first_temperature,
    "arrival_temperature": warmth.arrival_temperature,
    "arrival_cold": warmth.arrival_cold,
    "warm_excess": warmth.warm_excess,
    "cold_recheck": warmth.cold_recheck,
    "vitamin_k": protection.vitamin_k,
    "eye_ointment": protection.eye_ointment,
    "hepatitis_b_birth_dose": protection.hepatitis_b_birth_dose,
    "two_bands": two_bands,
    "apgar_pair": apgar_pair,
    "size_triad": size_triad,
    "skin_contact_start": skin_contact_start,
}


def membership(export: UnitExport) -> list[Member]:
    """Recompute the membership of every measure for one unit's newborns."""
    members = []
    for measure_id, facts_of in MEASURES.items():
        header = read_header(measure_id)
        for newborn in export.newborns:
            setting = setting_for(header, export.spec, newborn)
            for facts in facts_of(newborn, setting):
                members.extend(members_of(header, setting, newborn, facts))
    return members
