"""The first observations, recomputed from the prose of their headers."""

from bisect import bisect_right
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

from .care import has_text, numbered
from .engine import Facts, Setting
from .measures_warmth import body_temperatures
from .reader import Newborn, Row
from .way import NOT_KNOWN, died_at, here_until, moved_at

RATES = ("heart_rate", "respiratory_rate")


# --- Apgar totals ------------------------------------------------------------------------------


def apgar_pair(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Both totals recorded; the exclusions hold up to the fifth minute."""
    scores = ("apgar_1", "apgar_5")
    is_usable = all(newborn.get(name) is not None for name in scores)
    return [
        Facts(
            is_documented=all(has_text(newborn.admission, name) for name in scores),
            is_usable=is_usable,
            closes_minutes=Fraction(5),
            judged_minutes=Fraction(5) if is_usable else None,
            is_met=is_usable,
        )
    ]


def extended_apgar(newborn: Newborn, setting: Setting) -> list[Facts]:
    """After a low total at 5 minutes, one every 5 minutes until one is high enough, or 20."""
    enough, to_the_end = setting["low_below"], setting.is_on("score_to_the_end")
    at_5 = newborn.get("apgar_5")
    if at_5 is None or at_5 >= enough:
        return []
    asked = []
    for minute in (10, 15, 20):
        asked.append(minute)
        total = newborn.get(f"apgar_{minute}")
        # After a total that nobody can read, nobody can say that another was due.
        if not to_the_end and (total is None or total >= enough):
            break
    names = [f"apgar_{minute}" for minute in asked]
    is_usable = all(newborn.get(name) is not None for name in names)
    return [
        Facts(
            is_documented=all(has_text(newborn.admission, name) for name in names),
            is_usable=is_usable,
            closes_minutes=Fraction(asked[-1]),
            judged_minutes=Fraction(asked[-1]) if is_usable else None,
            is_met=is_usable,
        )
    ]


# --- how rates were counted --------------------------------------------------------------------


def _hand_counts(newborn: Newborn, kinds: tuple[str, ...], until: Fraction) -> list[Row]:
    """Counts of the first day, or of a time not known, that no device gave."""
    rows = [row for row in newborn.events if row.table == "observation"]
    counts = [row for row in rows if row.get("kind") in kinds and row.get("method") != "device"]
    return [row for row in counts if row.get("minutes") is None or row.get("minutes") <= until]


def full_minute_counts(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Each count; what it counted does not matter here."""
    return [
        Facts(
            item=item,
            tied=tied,
            is_documented=has_text(row, "method"),
            is_usable=None not in (row.get("method"), row.get("minutes")),
            minutes=row.get("minutes"),
            is_met=row.get("method") == "full_minute",
        )
        for item, tied, row in numbered(
            _hand_counts(newborn, RATES, setting["counts_until_minutes"])
        )
    ]


def multiple_of_four_share(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Each count of breaths; half a breath is no multiple."""
    counts = _hand_counts(newborn, ("respiratory_rate",), setting["counts_until_minutes"])
    divisor = setting["divisor"]
    return [
        Facts(
            item=item,
            tied=tied,
            is_documented=has_text(row, "value"),
            is_usable=None not in (row.get("value"), row.get("minutes")),
            minutes=row.get("minutes"),
            is_met=row.get("value") is not None and row.get("value") % divisor == 0,
        )
        for item, tied, row in numbered(counts)
    ]


# --- complete sets of temperature, heart rate and respirations -----------------------------------


Values = list[list[Fraction]]  # of each sign the readings of one minute


class Sign:
    """One sign's rows of the watch, and minute -> its believable readings in time order."""

    def __init__(self, rows: list[Row]) -> None:
        self.rows = rows
        found: dict[Fraction, list[Fraction]] = {}
        for row in rows:
            if None not in (row.get("minutes"), row.get("value")):
                found.setdefault(row.get("minutes"), []).append(row.get("value"))
        self.readings = dict(sorted(found.items()))


def _signs(newborn: Newborn, setting: Setting, until: Fraction) -> list[Sign]:
    """The three signs until the watch ends at the latest; a time not known may lie in it."""
    every = [
        body_temperatures(newborn, setting),
        newborn.of_kind("observation", "heart_rate"),
        newborn.of_kind("observation", "respiratory_rate"),
    ]
    return [
        Sign([row for row in rows if row.get("minutes") is None or row.get("minutes") <= until])
        for rows in every
    ]


def _sets(signs: list[Sign], within: Fraction, end: Fraction) -> dict[Fraction, Values]:
    """Return minute -> readings of the three signs, in time order, up to the end of the watch.

    A set stands at the minute of its last sign; each of the others is its latest reading, not
    longer ago than the three may lie apart.
    """
    minutes = [list(sign.readings) for sign in signs]
    found = {}
    for minute in sorted({minute for each in minutes for minute in each if minute <= end}):
        latest = [bisect_right(each, minute) - 1 for each in minutes]
        if min(latest) < 0:
            continue
        spots = [each[place] for each, place in zip(minutes, latest, strict=True)]
        if minute - min(spots) <= within:
            found[minute] = [sign.readings[spot] for sign, spot in zip(signs, spots, strict=True)]
    return found


def _settled_at(
    sets: dict[Fraction, Values], needed: Fraction, is_calm: Callable[[Values], bool]
) -> Fraction | None:
    """The first set that ends the needed minutes of nothing but sets in range."""
    since = None
    for minute, values in sets.items():
        if not is_calm(values):
            since = None
            continue
        since = minute if since is None else since
        if minute - since >= needed:
            return minute
    return None


def _longest_gap(minutes: list[Fraction], end: Fraction) -> Fraction:
    """From birth to the end of the watch."""
    edges = [Fraction(0), *minutes, end]
    return max(later - sooner for sooner, later in pairwise(edges))


def _leaves(newborn: Newborn) -> Fraction | None:
    """When it went home or was moved; a death is an exclusion of its own."""
    if died_at(newborn) is None:
        return here_until(newborn)
    moved = moved_at(newborn)
    return None if moved == NOT_KNOWN else moved


def _end_of_watch(newborn: Newborn, until: Fraction) -> Fraction:
    left = _leaves(newborn)
    return until if left is None else min(until, left)


def _set_apart(newborn: Newborn, setting: Setting) -> str | None:
    left = _leaves(newborn)
    is_short = left is not None and left < setting["stay_minutes"]
    return "stayed less than 2 hours" if is_short else None


def _judged_at(newborn: Newborn, end: Fraction) -> Fraction | None:
    """The end of the watch, unless nobody knows when the newborn was moved."""
    return None if moved_at(newborn) == NOT_KNOWN else end


def half_hourly_observation(newborn: Newborn, setting: Setting) -> list[Facts]:
    """No gap longer than allowed from birth until settled, or until the watch ended."""
    edges = [
        (setting["lower_edge_c"], setting["upper_edge_c"]),
        (setting["heart_rate_least"], setting["heart_rate_most"]),
        (setting["respirations_least"], setting["respirations_most"]),
    ]

    def is_calm(values: Values) -> bool:
        return all(
            low <= value <= high
            for readings, (low, high) in zip(values, edges, strict=True)
            for value in readings
        )

    watch = _end_of_watch(newborn, setting["watch_until_minutes"])
    signs = _signs(newborn, setting, setting["watch_until_minutes"])
    sets = _sets(signs, setting["set_within_minutes"], watch)
    settled = _settled_at(sets, setting["settle_minutes"], is_calm)
    end = watch if settled is None or not setting.is_on("until_settled") else settled
    counted = [minute for minute in sets if minute <= end]
    longest = setting["gap_minutes"] + setting["grace_minutes"]
    return [
        Facts(
            is_documented=all(sign.rows for sign in signs),
            is_usable=all(sign.readings for sign in signs),
            exclusion=_set_apart(newborn, setting),
            closes_minutes=end,
            judged_minutes=_judged_at(newborn, end),
            is_met=bool(counted) and _longest_gap(counted, end) <= longest,
        )
    ]


def longest_observation_gap(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The longest gap of a fixed watch; without any set there is none to measure."""
    end = _end_of_watch(newborn, setting["gaps_until_minutes"])
    judged = _judged_at(newborn, end)
    signs = _signs(newborn, setting, setting["gaps_until_minutes"])
    sets = _sets(signs, setting["set_within_minutes"], end)
    return [
        Facts(
            is_documented=all(sign.rows for sign in signs),
            is_usable=all(sign.readings for sign in signs),
            exclusion=_set_apart(newborn, setting),
            minutes=_longest_gap(list(sets), end) if sets and judged is not None else None,
            closes_minutes=end,
            judged_minutes=judged,
        )
    ]
