"""Screening and first functions, recomputed from the prose of their headers."""

from fractions import Fraction

from .care import (
    done,
    first_minute,
    has_text,
    left_before,
    listed,
    may_be_done,
    not_done_reasons,
)
from .engine import Facts, Setting
from .reader import Newborn, Row
from .sizes import centile_of
from .way import home_at, moved_at


def _once(newborn: Newborn, kind: str, exclusion: str | None = None) -> list[Facts]:
    """A care item that is done once: its first time, or why it was not done."""
    rows = newborn.of_kind("care", kind)
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first_minute(done(rows)) is not None,
            exclusion=exclusion,
            not_done=() if may_be_done(rows) else tuple(not_done_reasons(rows)),
            minutes=first_minute(done(rows)),
        )
    ]


def first_stool(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first stool."""
    return _once(newborn, "first_stool")


def first_void(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first void."""
    return _once(newborn, "first_void")


def _stay_exclusion(newborn: Newborn, setting: Setting) -> str | None:
    is_short = left_before(newborn, setting["day_stay_minutes"])
    return "stayed less than 24 hours" if is_short else None


def first_examination(newborn: Newborn, setting: Setting) -> list[Facts]:
    """A provider's examination, of those who stayed a day."""
    return _once(newborn, "examination", _stay_exclusion(newborn, setting))


# --- glucose -----------------------------------------------------------------------------------


def _risks(newborn: Newborn, setting: Setting) -> set[str]:
    """Why glucose may run low; a blank gestation or weight can hide a risk."""
    days, weight_g = newborn.get("gestational_age_days"), newborn.get("weight_g")
    risks = {"diabetes"} if newborn.get("maternal_diabetes") is True else set()
    if days is None:
        return risks
    if setting["late_preterm_from_weeks"] * 7 <= days < setting["term_from_weeks"] * 7:
        risks.add("late preterm")
    if days >= setting["term_from_weeks"] * 7 and weight_g is not None:
        centile = centile_of(newborn)
        is_small = centile is not None and centile < setting["small_below_centile"]
        is_large = centile is not None and centile >= setting["large_from_centile"]
        is_small = is_small or weight_g < setting["glucose_small_below_g"]
        is_large = is_large or weight_g > setting["large_above_g"]
        risks |= {"small"} if is_small else set()
        risks |= {"large"} if is_large else set()
    return risks


def _usable_minutes(rows: list[Row]) -> list[Fraction]:
    return sorted(
        row.get("minutes") for row in rows if None not in (row.get("minutes"), row.get("value"))
    )


def _until(rows: list[Row], minute: Fraction) -> list[Row]:
    """Rows no later than a minute, or of a time not known."""
    return [row for row in rows if row.get("minutes") is None or row.get("minutes") <= minute]


def glucose_check(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first glucose in time, and enough of them in the hours of the risk."""
    risks = _risks(newborn, setting)
    if not risks:
        return []
    is_long = bool(risks & {"late preterm", "small"})
    ends = setting["longer_minutes" if is_long else "shorter_minutes"]
    rows = newborn.of_kind("observation", "glucose")
    minutes = _usable_minutes(rows)
    first = minutes[0] if minutes else None
    is_enough = sum(minute <= ends for minute in minutes) >= setting["checks"]
    is_late = first is not None and first > setting["at_most"]
    in_time = [minute for minute in minutes if minute <= ends]
    settled: Fraction | None = setting["at_most"]
    if first is not None and not is_late:
        settled = in_time[int(setting["checks"]) - 1] if is_enough else None
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=bool(minutes),
            minutes=first if is_enough or is_late else None,
            closes_minutes=ends,
            judged_minutes=settled,
        )
    ]


def glucose_low_risk(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Any believable glucose of the first day; no row is read as no check."""
    days, weight_g = newborn.get("gestational_age_days"), newborn.get("weight_g")
    if days is None or weight_g is None or newborn.get("maternal_diabetes") is True:
        return []
    is_term = days >= setting["term_from_weeks"] * 7
    if not is_term or not setting["glucose_small_below_g"] <= weight_g <= setting["large_above_g"]:
        return []
    centile = centile_of(newborn)
    least, most = setting["small_below_centile"], setting["large_from_centile"]
    if centile is not None and not least <= centile < most:
        return []
    moved = moved_at(newborn)
    is_moved = moved is not None and moved < setting["at_most"]
    rows = _until(newborn.of_kind("observation", "glucose"), setting["at_most"])
    minutes = _usable_minutes(rows)
    return [
        Facts(
            is_documented=True,
            exclusion="moved before the window closed" if is_moved else None,
            is_usable=bool(minutes) or not rows,
            minutes=minutes[0] if minutes else None,
        )
    ]


# --- heart screen ------------------------------------------------------------------------------


Pair = tuple[Row, Row]


def _is_readable(row: Row) -> bool:
    return None not in (row.get("minutes"), row.get("value"))


def _screens(hands: list[Row], feet: list[Row], within: Fraction) -> list[Pair]:
    """Every hand and foot that are one screen, or that may be, for a time is not known."""
    return [
        (hand, foot)
        for hand in hands
        for foot in feet
        if None in (hand.get("minutes"), foot.get("minutes"))
        or abs(hand.get("minutes") - foot.get("minutes")) <= within
    ]


def _screened(pairs: list[Pair], earliest: Fraction) -> Fraction | None:
    """When the first screen from the earliest minute on was whole, else the last before."""
    minutes = []
    for pair in pairs:
        times = [row.get("minutes") for row in pair]
        minutes.append(min(times) if min(times) < earliest else max(times))
    in_time = [minute for minute in minutes if minute >= earliest]
    return min(in_time, default=max(minutes, default=None))


def _could_pass(pair: Pair, setting: Setting) -> bool:
    low, high = sorted(row.get("value") for row in pair)
    is_enough = low >= setting["fails_below_percent"] and high >= setting["repeat_below_percent"]
    return bool(is_enough and high - low <= setting["differs_most_percent"])


def heart_screen(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Hand and foot of one screen, and a result that the values do not belie."""
    earliest, due = setting["at_least"], setting["at_most"]
    left = home_at(newborn)
    rows = newborn.of_kind("observation", "oxygen_saturation")
    sites = [[row for row in rows if row.get("site") == site] for site in ("right_hand", "foot")]
    results = newborn.of_kind("finding", "heart_screen") if setting.is_on("require_result") else []
    pairs = _screens(*sites, setting["pair_within_minutes"])
    whole = [pair for pair in pairs if all(_is_readable(row) for row in pair)]
    minutes = _screened(whole, earliest)
    said = {row.get("as_expected") for row in results} - {None}
    is_belied = said == {True} and bool(whole)
    is_belied = is_belied and not any(_could_pass(pair, setting) for pair in whole)
    is_clear = all(map(_usable_minutes, sites)) and bool(whole or not pairs)
    is_asked = setting.is_on("require_result")
    offers = newborn.of_kind("care", "heart_screen")
    reasons = not_done_reasons(offers)
    exclusion = _stay_exclusion(newborn, setting)
    if exclusion is None and "not_indicated" in reasons:
        exclusion = "not indicated"
    return [
        Facts(
            is_documented=all(sites)
            and (not is_asked or any(has_text(row, "as_expected") for row in results)),
            is_usable=is_clear and (not is_asked or (bool(said) and not is_belied)),
            exclusion=exclusion,
            exception=listed(reasons, {"declined"}),
            not_done=() if any(sites) else tuple(reasons),
            minutes=minutes,
            due_minutes=due if left is None else min(due, left),
            closes_minutes=due,
        )
    ]
