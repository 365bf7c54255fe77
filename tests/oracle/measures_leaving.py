"""Leaving, and the other side, recomputed from the prose of their headers."""

from .care import (
    first_minute,
    has_text,
    left_before,
    may_be_done,
    not_done_reasons,
)
from .engine import Facts, Setting
from .measures_first_days import gestation_weeks, once
from .reader import Newborn
from .way import home_at, is_done

# --- leaving -------------------------------------------------------------------------------------


def car_seat(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Of those born early or small who went home."""
    weeks, weight_g, home = gestation_weeks(newborn), newborn.get("weight_g"), home_at(newborn)
    is_early = weeks is not None and weeks < setting["term_from_weeks"]
    is_small = weight_g is not None and weight_g < setting["car_seat_below_g"]
    if home is None or not (is_early or is_small):
        return []
    facts = once(newborn, "car_seat", home)
    reasons = not_done_reasons(newborn.of_kind("care", "car_seat"))
    is_open = may_be_done(newborn.of_kind("care", "car_seat"))
    # One reason is shown where there are several; by itself or beside others it may be this one.
    is_declined = not is_open and min(reasons, default="") == "declined"
    return [
        Facts(
            is_documented=facts.is_documented,
            is_usable=facts.is_usable,
            exception=("declined",) if is_declined else (),
            not_done=facts.not_done,
            minutes=facts.minutes,
            due_minutes=home,
        )
    ]


def bands_at_leaving(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Of those who went home."""
    home = home_at(newborn)
    return [] if home is None else [once(newborn, "band_check_leaving", home)]


def safe_sleep(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The last look before leaving; of two in one minute the unsafe one."""
    left = newborn.get("discharge_minutes")
    rows = [
        row
        for row in newborn.of_kind("finding", "safe_sleep")
        if has_text(row, "as_expected")
        and (left is None or row.get("minutes") is None or row.get("minutes") <= left)
    ]
    usable = [row for row in rows if None not in (row.get("minutes"), row.get("as_expected"))]
    last = max((row.get("minutes") for row in usable), default=None)
    is_short = left_before(newborn, setting["day_stay_minutes"])
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=bool(usable),
            exclusion="stayed less than 24 hours" if is_short else None,
            minutes=last,
            closes_minutes=setting["day_stay_minutes"],
            is_met=bool(usable)
            and all(row.get("as_expected") for row in usable if row.get("minutes") == last),
        )
    ]


def early_leaving_set(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Void, stool, bilirubin and a visit, of those who went home before the unit's hour."""
    home = home_at(newborn)
    if home is None or home >= setting["early_leaving_minutes"]:
        return []
    kinds = ("first_void", "first_stool", "follow_up_arranged")
    parts = [once(newborn, kind) for kind in kinds]
    rows = newborn.of_kind("observation", "bilirubin")
    usable = first_minute(row for row in rows if row.get("value") is not None)
    minutes = [part.minutes for part in parts] + [usable]
    known = [minute for minute in minutes if minute is not None]
    is_usable = len(known) == len(minutes)
    return [
        Facts(
            is_documented=all(part.is_documented for part in parts) and bool(rows),
            is_usable=is_usable,
            not_done=tuple(reason for part in parts for reason in part.not_done),
            minutes=max(known) if is_usable else None,
            due_minutes=home,
        )
    ]


# --- the other side ------------------------------------------------------------------------------


def _happened(newborn: Newborn, setting: Setting, *kinds: str) -> Facts:
    """The first of some unwanted events; no row is none where the export has them at all."""
    rows = [row for kind in kinds for row in newborn.of_kind("care", kind)]
    first = first_minute(row for row in rows if row.get("status") != "not_done" and is_done(row))
    is_open = any(
        row.get("status") != "not_done" and not (is_done(row) and row.get("minutes") is not None)
        for row in rows
    )
    is_charted = any(("care", kind) in newborn.charted for kind in kinds)
    return Facts(
        is_documented=bool(rows) or is_charted or setting.is_on("no_row_is_none"),
        is_usable=first is not None or not is_open,
        minutes=first,
        closes_minutes=first,
    )


def intensive_care_at_term(newborn: Newborn, setting: Setting) -> list[Facts]:
    """A move to intensive care, of those born at term."""
    weeks = gestation_weeks(newborn)
    is_term = weeks is not None and weeks >= setting["term_from_weeks"]
    return [_happened(newborn, setting, "intensive_care")] if is_term else []


def phototherapy(newborn: Newborn, setting: Setting) -> list[Facts]:
    """When light therapy first began."""
    return [_happened(newborn, setting, "phototherapy")]


def fall_or_collapse(newborn: Newborn, setting: Setting) -> list[Facts]:
    """A fall or a collapse, whichever came first."""
    return [_happened(newborn, setting, "fall", "collapse")]


def readmission(newborn: Newborn, setting: Setting) -> list[Facts]:
    """From leaving to coming back, of those who went home."""
    home = home_at(newborn)
    if home is None:
        return []
    facts = _happened(newborn, setting, "readmission")
    since = None if facts.minutes is None else facts.minutes - home
    return [Facts(facts.is_documented, facts.is_usable, minutes=since)]


def heel_pricks(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Different minutes at which the heel was pricked."""
    kinds = (("observation", "glucose"), ("care", "blood_spot"), ("care", "heel_prick"))
    rows = [row for table, kind in kinds for row in newborn.of_kind(table, kind)]
    rows = [row for row in rows if row.get("status") != "not_done"]
    minutes = {row.get("minutes") for row in rows}
    early = [
        minute
        for minute in minutes
        if minute is not None and minute <= setting["pricks_until_minutes"]
    ]
    is_many = len(early) >= setting["many_pricks"]
    return [
        Facts(
            is_documented=setting.is_on("no_row_is_none")
            or any(kind in newborn.charted for kind in kinds),
            is_usable=None not in minutes or is_many,
            closes_minutes=setting["pricks_until_minutes"],
            is_met=is_many,
        )
    ]
