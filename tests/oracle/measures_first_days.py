"""The rest of the first days, recomputed from the prose of their headers."""

from fractions import Fraction

from .care import (
    NO_REASON,
    UNWELL,
    done,
    first_minute,
    has_text,
    left_before,
    listed,
    may_be_done,
    may_be_given,
    not_done_reasons,
    reasons_of,
)
from .engine import Facts, Setting
from .measures_warmth import body_temperatures, usable_readings
from .reader import Newborn, Row
from .way import home_at

SCREENS = (
    ("hearing_screen", "hearing_assessment", "hearing_end_minutes"),
    ("heart_screen", "echocardiogram", "heart_end_minutes"),
    ("red_reflex", "eye_assessment", "red_reflex_end_minutes"),
)


def gestation_weeks(newborn: Newborn) -> Fraction | None:
    days = newborn.get("gestational_age_days")
    return None if days is None else Fraction(days) / 7


def once(newborn: Newborn, kind: str, due: Fraction | None = None) -> Facts:
    """A care item: when it was first done, or why it was not."""
    rows = newborn.of_kind("care", kind)
    return Facts(
        is_documented=bool(rows),
        is_usable=first_minute(done(rows)) is not None,
        not_done=() if may_be_done(rows) else tuple(not_done_reasons(rows)),
        minutes=first_minute(done(rows)),
        due_minutes=due,
    )


# --- feeds ---------------------------------------------------------------------------------------


def breastfed_first_hour(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first feed at the breast, of the feeds of which it is said what they were."""
    rows = newborn.of_kind("care", "first_feed")
    fed, reasons, weeks = done(rows), not_done_reasons(rows), gestation_weeks(newborn)
    exclusion = None
    if weeks is not None and weeks < setting["feed_from_weeks"]:
        exclusion = "too early to feed by mouth"
    elif "not_indicated" in reasons and not may_be_done(rows):
        exclusion = "not to be fed by mouth"
    known = [row for row in fed if None not in (row.get("feed"), row.get("minutes"))]
    return [
        Facts(
            is_documented=bool(reasons) or any(has_text(row, "feed") for row in rows),
            is_usable=bool(known),
            exclusion=exclusion,
            exception=listed(reasons, {*UNWELL, "declined"}),
            not_done=() if may_be_done(rows) else tuple(reasons),
            minutes=first_minute(row for row in fed if row.get("feed") == "breast"),
        )
    ]


def first_feed_formula(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Whether formula is among the feeds of the first minute of which it is said what they were."""
    rows = [
        row
        for row in newborn.of_kind("care", "first_feed")
        if has_text(row, "feed") and row.get("status") != "not_done"
    ]
    known = [row for row in rows if row.get("feed") is not None]
    first = first_minute(known)
    at_first = {row.get("feed") for row in known if row.get("minutes") == first}
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first is not None,
            minutes=first,
            closes_minutes=first,
            is_met=first is not None and "formula" in at_first,
        )
    ]


def weight_loss(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Every later weight of the first days against the percent of its hour."""
    birth_g = newborn.get("weight_g")
    rows = [
        row
        for row in newborn.of_kind("observation", "weight")
        if row.get("minutes") is None or row.get("minutes") <= setting["weighed_until_minutes"]
    ]
    usable = [row for row in rows if None not in (row.get("minutes"), row.get("value"), birth_g)]
    beyond, worst = [], None
    for row in usable:
        loss = (birth_g - row.get("value")) * 100 / Fraction(birth_g)
        is_first_day = row.get("minutes") <= 1440
        over = loss - setting["loss_first_day_percent" if is_first_day else "loss_percent"]
        beyond.append(over > 0)
        if worst is None or (over, -row.get("minutes")) > worst:
            worst = (over, -row.get("minutes"))
    return [
        Facts(
            is_documented=bool(rows)
            and (birth_g is not None or "weight_g" in newborn.admission.unusable),
            is_usable=bool(usable),
            minutes=-worst[1] if worst else None,
            closes_minutes=first_minute(usable) if usable else setting["weighed_until_minutes"],
            is_met=any(beyond),
        )
    ]


# --- warmth --------------------------------------------------------------------------------------


def bath_not_early(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first bath, at the unit's hour or later."""
    rows = newborn.of_kind("care", "bath")
    first, hour = first_minute(done(rows)), setting["bath_from_minutes"]
    is_never = bool(rows) and all(row.get("status") == "not_done" for row in rows)
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first is not None,
            exclusion="not bathed here" if is_never else None,
            minutes=first,
            closes_minutes=hour if first is None else first,
            is_met=first is not None and first >= hour,
        )
    ]


def second_temperature(newborn: Newborn, setting: Setting) -> list[Facts]:
    """From the first believable body temperature to the next minute with one."""
    rows = body_temperatures(newborn, setting)
    minutes = list(usable_readings(rows))
    has_unusable = any(None in (row.get("minutes"), row.get("value")) for row in rows)
    return [
        Facts(
            is_documented=len(minutes) > 1 or has_unusable,
            is_usable=len(minutes) > 1,
            minutes=minutes[1] - minutes[0] if len(minutes) > 1 else None,
            closes_minutes=(minutes[0] if minutes else 0) + setting["at_most"],
            judged_minutes=minutes[1] if len(minutes) > 1 else None,
        )
    ]


# --- screens -------------------------------------------------------------------------------------


def hearing_screen(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first result, whichever; the care item says why it was not done."""
    rows = [
        row for row in newborn.of_kind("finding", "hearing_screen") if has_text(row, "as_expected")
    ]
    reasons = not_done_reasons(newborn.of_kind("care", "hearing_screen"))
    first = first_minute(row for row in rows if row.get("as_expected") is not None)
    due, left = setting["at_most"], newborn.get("discharge_minutes")
    if setting.is_on("before_leaving") and left is not None:
        due = min(due, left)
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first is not None,
            exception=listed(reasons, {"declined"}),
            not_done=() if rows else tuple(reasons),
            minutes=first,
            due_minutes=due,
        )
    ]


def _spots(newborn: Newborn) -> list[Fraction]:
    taken = done(newborn.of_kind("care", "blood_spot"))
    return sorted(row.get("minutes") for row in taken if row.get("minutes") is not None)


def blood_spot(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first from the earliest minute on, else the last before it."""
    rows, minutes = newborn.of_kind("care", "blood_spot"), _spots(newborn)
    on_time = [minute for minute in minutes if minute >= setting["at_least"]]
    reasons = not_done_reasons(rows)
    is_short = left_before(newborn, setting["at_least"])
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=bool(minutes),
            exclusion="stayed less than 24 hours" if is_short else None,
            exception=listed(reasons, {"declined"}),
            not_done=() if may_be_done(rows) else tuple(reasons),
            minutes=next(iter(on_time or minutes[-1:]), None),
        )
    ]


def blood_spot_repeated(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Another one from 24 hours on, of those of whom one was taken before."""
    rows, minutes = newborn.of_kind("care", "blood_spot"), _spots(newborn)
    edge = setting["early_before_minutes"]
    if not minutes or minutes[0] >= edge:
        return []
    again = next((minute for minute in minutes if minute >= edge), None)
    has_unplaced = any(
        row.get("status") != "not_done" and row.get("minutes") is None for row in rows
    )
    reasons = not_done_reasons(rows)
    return [
        Facts(
            is_documented=again is not None or has_unplaced,
            is_usable=again is not None,
            exception=listed(reasons, {"declined"}),
            not_done=tuple(reasons) if again is None and not has_unplaced else (),
            minutes=again,
        )
    ]


def bilirubin_before_leaving(newborn: Newborn, setting: Setting) -> list[Facts]:
    """One at 24 to 48 hours, or by leaving where that is earlier."""
    rows = newborn.of_kind("observation", "bilirubin")
    usable = [row for row in rows if row.get("value") is not None]
    minutes = sorted(row.get("minutes") for row in usable if row.get("minutes") is not None)
    begins, ends = setting["bilirubin_from_minutes"], setting["bilirubin_until_minutes"]
    left, home, weeks = newborn.get("discharge_minutes"), home_at(newborn), gestation_weeks(newborn)
    low = 0 if home is not None and home < begins else begins
    high = ends if left is None else min(left, ends)
    in_time = [minute for minute in minutes if low <= minute <= high]
    is_early = weeks is not None and weeks < setting["bilirubin_from_weeks"]
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=bool(minutes),
            exclusion="born before 35 weeks" if is_early else None,
            minutes=next(iter(in_time or minutes), None),
            closes_minutes=ends,
            is_met=bool(in_time),
        )
    ]


def failed_screen_followed(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Each kind of screen that did not pass: a later pass, or its assessment."""
    found = []
    for item, (kind, assessment, due) in enumerate(SCREENS, start=1):
        results = newborn.of_kind("finding", kind)
        failed = [row for row in results if row.get("as_expected") is False]
        if not failed:
            continue
        at = first_minute(failed)
        care = newborn.of_kind("care", assessment)
        passed = [row for row in results if row.get("as_expected") is True and _after(row, at)]
        ends = [row.get("minutes") for row in (*passed, *done(care))]
        end = min((minute for minute in ends if minute is not None), default=None)
        is_known = None not in (at, end)
        found.append(
            Facts(
                item=item,
                is_documented=bool(passed or care),
                is_usable=is_known,
                not_done=() if passed or may_be_done(care) else tuple(not_done_reasons(care)),
                minutes=max(end - at, Fraction(0)) if at is not None and end is not None else None,
                due_minutes=setting[due],
                closes_minutes=None if at is None else at + setting[due],
                judged_minutes=end if at is None or end is None else max(end, at),
            )
        )
    return found


def _after(row: Row, minute: Fraction | None) -> bool:
    """Later than a minute, or it may be because one of the two is not known."""
    return minute is None or row.get("minutes") is None or row.get("minutes") > minute


def sepsis_risk(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Of those with a reason on the record."""
    weeks, mother_c = gestation_weeks(newborn), newborn.get("maternal_temperature_c")
    is_warm = mother_c is not None and mother_c >= setting["mother_warm_from_c"]
    if weeks is None or weeks < setting["risk_from_weeks"]:
        return []
    is_asked = weeks < setting["term_from_weeks"] or is_warm
    return [once(newborn, "sepsis_risk")] if is_asked else []


# --- low glucose ---------------------------------------------------------------------------------


def _low_glucose(newborn: Newborn, setting: Setting, *, is_end: bool) -> list[Facts]:
    """Episodes of low glucose; of each the next reading, or the one that ended it."""
    rows = newborn.of_kind("observation", "glucose")
    readings = list(usable_readings(rows).items())
    bad = [row for row in rows if None in (row.get("minutes"), row.get("value"))]
    low = [value < setting["low_below_mg_dl"] for _, value in readings]
    starts = [at for at, is_low in enumerate(low) if is_low and not (at and low[at - 1])]
    found = []
    for item, at in enumerate(starts, start=1):
        began = readings[at][0]
        later = [minute for minute, _ in readings[at + 1 :]]
        ended = [
            minute
            for (minute, _), is_low in list(zip(readings, low, strict=True))[at:]
            if not is_low
        ]
        hits = ended if is_end else later
        closes = began + setting["at_most"]
        has_bad = any(row.get("minutes") is None or row.get("minutes") > began for row in bad)
        found.append(
            Facts(
                item=item,
                is_documented=bool(later) or has_bad,
                is_usable=bool(later),
                minutes=hits[0] - began if hits else None,
                closes_minutes=closes,
                judged_minutes=hits[0] if hits else None,
            )
        )
    return found


def low_glucose_rechecked(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The next reading after a low one."""
    return _low_glucose(newborn, setting, is_end=False)


def low_glucose_ended(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first reading at or above the limit after a low one."""
    return _low_glucose(newborn, setting, is_end=True)


# --- antibody ------------------------------------------------------------------------------------


def rsv_antibody(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Of those born in the months of the season, which may run over the new year."""
    if newborn.period is None:
        return []
    month, start, end = (
        int(newborn.period[5:]), int(setting["season_from_month"]), int(setting["season_to_month"]),
    )  # fmt: skip
    months = set(range(start, end + 1)) if start <= end else {*range(start, 13), *range(1, end + 1)}
    if month not in months:
        return []
    rows = newborn.of_kind("dose", "rsv_antibody")
    given = [row for row in rows if row.get("status") == "given"]
    reasons = reasons_of(rows)
    is_needless = "mother_vaccinated" in reasons and not may_be_given(rows)
    held = [row.get("reason") or NO_REASON for row in rows if row.get("status") == "held"]
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first_minute(given) is not None,
            exclusion="mother vaccinated in pregnancy" if is_needless else None,
            exception=listed(reasons, {"declined", "contraindicated"}),
            not_done=() if may_be_given(rows) else tuple(held),
            minutes=first_minute(given),
        )
    ]
