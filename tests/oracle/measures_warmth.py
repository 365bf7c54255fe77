"""The warmth measures, recomputed from the prose of their headers."""

from collections.abc import Callable
from fractions import Fraction

from .care import done, first_minute, may_be_done, not_done_reasons
from .engine import Facts, Setting
from .reader import Newborn, Row
from .way import began

NOT_A_BODY_SITE = {"right_hand", "foot", "chest"}
BROUGHT = {"other_site", "before_arrival"}


def body_temperatures(newborn: Newborn, setting: Setting) -> list[Row]:
    """Temperature rows of the body; a blank site counts, skin only where the unit says so."""
    rows = newborn.of_kind("observation", "temperature")
    near = [row for row in rows if row.get("site") not in NOT_A_BODY_SITE]
    if setting.is_on("skin_counts"):
        return near
    return [row for row in near if row.get("site") != "skin" and row.get("method") != "probe"]


def usable_readings(rows: list[Row]) -> dict[Fraction, Fraction]:
    """Return minute -> temperature in time order; of one minute the lowest stands."""
    lowest: dict[Fraction, Fraction] = {}
    for row in rows:
        minute, value = row.get("minutes"), row.get("value")
        if minute is not None and value is not None:
            lowest[minute] = min(value, lowest.get(minute, value))
    return dict(sorted(lowest.items()))


def is_between(minute: Fraction | None, low: Fraction, high: Fraction) -> bool:
    """Whether the minute is in the stretch, or may be because it is not known."""
    return minute is None or low <= minute <= high


def first_temperature(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first believable body temperature; cooling before any reading excludes."""
    rows = body_temperatures(newborn, setting)
    first = next(iter(usable_readings(rows)), None)
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first is not None,
            minutes=first,
        )
    ]


def _anchor(newborn: Newborn) -> Fraction | None:
    """Arrival; birth where nobody moved; None where the arrival cannot be placed."""
    arrival: Fraction | None = newborn.get("arrival_minutes")
    is_known = "arrival_minutes" not in newborn.admission.unusable
    if arrival is None and is_known and newborn.get("birth_place") not in BROUGHT:
        return Fraction(0)
    return arrival


def _arrival(newborn: Newborn, setting: Setting) -> tuple[Facts, Fraction | None]:
    """Return what is known of the arrival reading, and the reading."""
    rows = body_temperatures(newborn, setting)
    anchor = _anchor(newborn)
    if anchor is None:
        # Nobody arrives before birth: no arrival window closes before this minute.
        earliest = setting["arrival_window_minutes"]
        return Facts(bool(rows), is_usable=False, closes_minutes=earliest), None
    closes = anchor + setting["arrival_window_minutes"]
    near = [row for row in rows if is_between(row.get("minutes"), anchor, closes)]
    first = next(iter(usable_readings(near).items()), (None, None))
    facts = Facts(
        is_documented=bool(near),
        is_usable=first[0] is not None,
        minutes=first[0],
        closes_minutes=closes,
        judged_minutes=first[0],
        value=first[1],
    )
    return facts, first[1]


def arrival_temperature(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Whether the arrival reading lies in range, both edges included."""
    facts, value = _arrival(newborn, setting)
    low, high = setting["lower_edge_c"], setting["upper_edge_c"]
    return [
        Facts(
            is_documented=facts.is_documented,
            is_usable=facts.is_usable,
            minutes=facts.minutes,
            judged_minutes=facts.minutes,
            closes_minutes=facts.closes_minutes,
            is_met=value is not None and low <= value <= high,
        )
    ]


def arrival_cold(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The arrival reading, for the bands."""
    return [_arrival(newborn, setting)[0]]


def lowest_first_day(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The lowest believable reading taken here before any cooling; of equal ones the first."""
    until = setting["lowest_until_minutes"]
    arrival, start = newborn.get("arrival_minutes"), began(newborn, "cooling")
    # Of a cooling whose start is not known nobody can say which reading came before it.
    cooled = until + 1 if start is None else max(start, Fraction(0))
    here = Fraction(0)
    if newborn.get("birth_place") == "other_site" and arrival is not None:
        here = arrival
    rows = [
        row
        for row in body_temperatures(newborn, setting)
        if row.get("minutes") is None
        or (here <= row.get("minutes") <= until and row.get("minutes") < cooled)
    ]
    readings = usable_readings(rows)
    at = min(readings, key=lambda minute: (readings[minute], minute), default=None)
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=at is not None,
            minutes=at,
            closes_minutes=until,
            judged_minutes=at,
            value=None if at is None else readings[at],
        )
    ]


def warm_excess(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Any believable reading above the upper edge in the first hours."""
    until = setting["warm_until_minutes"]
    rows = body_temperatures(newborn, setting)
    near = [row for row in rows if is_between(row.get("minutes"), Fraction(0), until)]
    usable = [row for row in near if None not in (row.get("minutes"), row.get("value"))]
    warm = [row.get("minutes") for row in usable if row.get("value") > setting["too_warm_above_c"]]
    return [
        Facts(
            is_documented=bool(near),
            is_usable=bool(usable),
            minutes=min(warm, default=None),
            closes_minutes=until,
            judged_minutes=min((row.get("minutes") for row in usable), default=None),
            is_met=bool(warm),
        )
    ]


def _episode_starts(readings: dict[Fraction, Fraction], edge: Fraction) -> list[Fraction]:
    """The first reading below the edge, and each that follows a reading at or above it."""
    starts = []
    was_cold = False
    for minute, value in readings.items():
        if value < edge and not was_cold:
            starts.append(minute)
        was_cold = value < edge
    return starts


def _episode_readings(newborn: Newborn, rows: list[Row]) -> dict[Fraction, Fraction]:
    """The readings an episode is made of: of a newborn brought in, those from arrival on."""
    readings = usable_readings(rows)
    arrival = newborn.get("arrival_minutes")
    if newborn.get("birth_place") != "other_site" or arrival is None:
        return readings
    return {minute: value for minute, value in readings.items() if minute >= arrival}


def _episodes(
    newborn: Newborn,
    setting: Setting,
    met_by: Callable[[Fraction], bool],
    starts_of_cold: Callable[[dict[Fraction, Fraction], Fraction], list[Fraction]],
) -> list[Facts]:
    """One row per start of cold: minutes from that reading to the first that meets it."""
    rows = body_temperatures(newborn, setting)
    readings = _episode_readings(newborn, rows)
    episodes = []
    for item, start in enumerate(starts_of_cold(readings, setting["lower_edge_c"]), start=1):
        closes = start + setting["at_most"]
        later = {minute: value for minute, value in readings.items() if minute > start}
        meets = next((minute for minute, value in later.items() if met_by(value)), None)
        unclear = [
            row
            for row in rows
            if None in (row.get("minutes"), row.get("value"))
            and (row.get("minutes") is None or start < row.get("minutes") <= closes)
        ]
        episodes.append(
            Facts(
                item=item,
                is_documented=bool(later or unclear),
                is_usable=bool(later),
                minutes=None if meets is None else meets - start,
                closes_minutes=closes,
                judged_minutes=meets,
            )
        )
    return episodes


def cold_recheck(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The next reading of any temperature, after each cold one."""

    def colds(readings: dict[Fraction, Fraction], edge: Fraction) -> list[Fraction]:
        return [minute for minute, value in readings.items() if value < edge]

    return _episodes(newborn, setting, lambda _: True, colds)


def return_to_range(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first later reading between both edges."""
    low, high = setting["lower_edge_c"], setting["upper_edge_c"]
    return _episodes(newborn, setting, lambda value: low <= value <= high, _episode_starts)


def minutes_to_first_temperature(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The first believable body temperature, however late; what came before it cut it off."""
    rows = body_temperatures(newborn, setting)
    first = next(iter(usable_readings(rows)), None)
    watched = setting["watched_minutes"]
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=first is not None,
            minutes=first,
            closes_minutes=watched if first is None else max(first, watched),
        )
    ]


WARM_START = (("drying", "plastic_bag"), ("head_cover",), ("skin_contact", "warmer"))


def warm_start_actions(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Three actions, two of which can be done in either of two ways; the last one decides."""
    parts = [[row for kind in way for row in newborn.of_kind("care", kind)] for way in WARM_START]
    firsts = [first_minute(done(rows)) for rows in parts]
    known = [first for first in firsts if first is not None]
    is_timed = len(known) == len(parts)
    return [
        Facts(
            is_documented=all(parts),
            is_usable=is_timed,
            not_done=tuple(
                reason
                for rows in parts
                if not may_be_done(rows)
                for reason in not_done_reasons(rows)
            ),
            minutes=max(known) if is_timed else None,
        )
    ]
