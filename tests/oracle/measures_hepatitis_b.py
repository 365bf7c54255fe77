"""The hepatitis B measures, recomputed from the prose of their headers."""

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from .care import (
    done,
    first_minute,
    given,
    listed,
    may_be_done,
    may_be_given,
    not_done_reasons,
    reasons_of,
    shown_reasons,
)
from .engine import Facts, Setting
from .reader import Newborn, Row
from .way import home_at

VACCINE, GLOBULIN = "hepatitis_b_vaccine", "hepatitis_b_immune_globulin"


def _status_at_reading(newborn: Newborn, setting: Setting) -> str | None:
    """The mother's status as known when it is read; None where it cannot be read."""
    admission = newborn.admission
    if admission.unusable & {"maternal_hepatitis_b", "maternal_hepatitis_b_minutes"}:
        return None
    since = newborn.get("maternal_hepatitis_b_minutes")
    is_known_late = since is not None and since > setting["status_read_minutes"]
    status: str = newborn.get("maternal_hepatitis_b") or "unknown"
    return "unknown" if is_known_late else status


def _is_small(newborn: Newborn, setting: Setting) -> bool | None:
    weight = newborn.get("weight_g")
    return None if weight is None else weight < setting["small_below_g"]


def _hepatitis_b_exclusion(
    status: str | None, is_small: bool | None, setting: Setting
) -> str | None:
    if status != "negative":
        return None
    if not setting.is_on("universal_profile"):
        return "individual decision by policy"
    return "due at one month or discharge" if is_small else None


def _is_into_muscle(row: Row, setting: Setting) -> bool | None:
    """Whether a dose went into a muscle; None where its route does not say."""
    route = row.get("route")
    if route is not None:
        return bool(route == "intramuscular")
    is_blank = "route" not in row.unusable
    return True if is_blank and setting.is_on("blank_route_counts") else None


class Needed:
    """The doses a newborn needs, each by its own minute."""

    def __init__(self, newborn: Newborn, due: dict[str, Fraction], setting: Setting) -> None:
        self.rows = {kind: newborn.of_kind("dose", kind) for kind in due}
        self.doses = {
            kind: [(row, _is_into_muscle(row, setting)) for row in given(rows)]
            for kind, rows in self.rows.items()
        }
        self.firsts = {
            kind: first_minute(row for row, is_ours in doses if is_ours)
            for kind, doses in self.doses.items()
        }
        self.missed = [
            kind for kind, first in self.firsts.items() if first is None or first > due[kind]
        ]

    @property
    def is_documented(self) -> bool:
        """Whether each has some row."""
        return all(self.rows.values())

    @property
    def is_timed(self) -> bool:
        """Whether each was given into a muscle at a known minute."""
        return None not in self.firsts.values()

    @property
    def is_clear(self) -> bool:
        """Whether the record says of each when it was given, or that only by another route."""
        return all(
            first is not None
            or (bool(self.doses[kind]) and {is_ours for _, is_ours in self.doses[kind]} == {False})
            for kind, first in self.firsts.items()
        )

    @property
    def last_minute(self) -> Fraction | None:
        """When the last of them was given, None where one was not, or nobody knows when."""
        known = [first for first in self.firsts.values() if first is not None]
        return max(known) if len(known) == len(self.firsts) else None

    def excused(self, reasons: Iterable[str] = ("declined",)) -> tuple[str, ...]:
        """The listed reasons, where they explain everything not given in time."""
        whys = [set(reasons_of(self.rows[kind])) & set(reasons) for kind in self.missed]
        return tuple(sorted(set().union(*whys))) if whys and all(whys) else ()

    def not_done(self) -> tuple[str, ...]:
        """Why doses were not given, where each that was never given has a reason."""
        never = [rows for rows in self.rows.values() if not given(rows)]
        whys = [shown_reasons(rows) for rows in never]
        return tuple(why for each in whys for why in each) if all(whys) else ()


def hepatitis_b_birth_dose(newborn: Newborn, setting: Setting) -> list[Facts]:
    """All that the mother's status and the weight call for, in time."""
    status, is_small = _status_at_reading(newborn, setting), _is_small(newborn, setting)
    is_unclear = status is None or (status != "positive" and is_small is None)
    needs_globulin = status == "positive" or (status == "unknown" and bool(is_small))
    due = setting["at_most" if status in {"negative", None} else "exposed_at_most"]
    needed = Needed(newborn, dict.fromkeys([VACCINE] + [GLOBULIN] * needs_globulin, due), setting)
    accepted = ("declined", "unstable") if status == "negative" else ("declined",)
    return [
        Facts(
            is_documented=needed.is_documented,
            is_usable=needed.is_clear and not is_unclear,
            exclusion=_hepatitis_b_exclusion(status, is_small, setting),
            exception=needed.excused(accepted),
            not_done=needed.not_done(),
            minutes=needed.last_minute,
            due_minutes=due,
        )
    ]


def _are_at_one_site(needed: Needed, within: Fraction) -> bool:
    """Whether some vaccine and some immune globulin were given together at one recorded site."""
    spots = [
        [(row.get("minutes"), row.get("site")) for row in given(needed.rows[kind])]
        for kind in (VACCINE, GLOBULIN)
    ]
    return any(
        None not in (*one, *other) and one[1] == other[1] and abs(one[0] - other[0]) <= within
        for one in spots[0]
        for other in spots[1]
    )


def _facts(needed: Needed, minutes: float | None) -> Facts:
    return Facts(
        is_documented=needed.is_documented,
        is_usable=needed.is_clear,
        exception=needed.excused(),
        not_done=needed.not_done(),
        minutes=minutes,
    )


def hepatitis_b_mother_positive(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Both in time, and not at one site where both sites are recorded."""
    if _status_at_reading(newborn, setting) != "positive":
        return []
    needed = Needed(newborn, dict.fromkeys([VACCINE, GLOBULIN], setting["at_most"]), setting)
    is_one_site = _are_at_one_site(needed, setting["together_minutes"])
    return [_facts(needed, None if is_one_site else needed.last_minute)]


def hepatitis_b_unknown_under_2000_g(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Status not known when it is read, and small: both in time."""
    if _status_at_reading(newborn, setting) != "unknown" or not _is_small(newborn, setting):
        return []
    needed = Needed(newborn, dict.fromkeys([VACCINE, GLOBULIN], setting["at_most"]), setting)
    return [_facts(needed, needed.last_minute)]


def hepatitis_b_unknown_2000_g_or_more(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The vaccine in time; immune globulin by its own minute, if the mother turns out positive."""
    is_small = _is_small(newborn, setting)
    if _status_at_reading(newborn, setting) != "unknown" or is_small is None or is_small:
        return []
    due = {VACCINE: setting["at_most"]}
    if newborn.get("maternal_hepatitis_b") == "positive":
        due[GLOBULIN] = setting["globulin_at_most"]
    needed = Needed(newborn, due, setting)
    # Of the doses given late the one due first decides the minute, else the last that was given.
    late = sorted(
        (due[kind], first)
        for kind, first in needed.firsts.items()
        if first is not None and first > due[kind]
    )
    due_minutes, minutes = late[0] if late else (max(due.values()), needed.last_minute)
    return [
        Facts(
            is_documented=needed.is_documented,
            is_usable=needed.is_clear,
            exception=needed.excused(),
            not_done=needed.not_done(),
            minutes=minutes if needed.is_timed else None,
            due_minutes=due_minutes,
            closes_minutes=setting["at_most"],
        )
    ]


def _vaccine_alone(
    newborn: Newborn, setting: Setting, due: Fraction, accepted: tuple[str, ...]
) -> Facts:
    needed = Needed(newborn, {VACCINE: due}, setting)
    return Facts(
        is_documented=needed.is_documented,
        is_usable=needed.is_clear,
        # Of one dose that was not given in time, a listed reason explains all there is.
        exception=listed(reasons_of(needed.rows[VACCINE]), accepted),
        not_done=needed.not_done(),
        minutes=needed.last_minute,
        due_minutes=due,
        closes_minutes=setting["at_most"],
    )


def hepatitis_b_universal(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Mother known to be negative, not small: the vaccine in time."""
    if _status_at_reading(newborn, setting) != "negative":
        return []
    if _is_small(newborn, setting) is not False:
        return []
    due = setting["at_most"]
    return [_vaccine_alone(newborn, setting, due, ("declined", "unstable"))]


def _until_leaving(newborn: Newborn, minute: Fraction) -> Fraction:
    left = home_at(newborn)
    return minute if left is None else min(minute, left)


def hepatitis_b_small_negative(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Mother known to be negative, small: by one month or discharge, whichever came first."""
    if _status_at_reading(newborn, setting) != "negative" or not _is_small(newborn, setting):
        return []
    closes = setting["at_most"]
    facts = _vaccine_alone(newborn, setting, _until_leaving(newborn, closes), ("declined",))
    has_dose = bool(given(newborn.of_kind("dose", VACCINE)))
    # The export holds births of later months: the newborn is at least as old as that.
    is_overdue = newborn.least_age is not None and newborn.least_age >= closes
    if newborn.get("disposition") == "in_unit" and not has_dose and not is_overdue:
        return [replace(facts, exclusion="still in the unit, not yet due")]
    return [facts]


def hepatitis_b_decision(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Mother known to be negative, not small: a dose or the family's decision, in time."""
    if _status_at_reading(newborn, setting) != "negative":
        return []
    if _is_small(newborn, setting) is not False:
        return []
    doses, talks = newborn.of_kind("dose", VACCINE), newborn.of_kind("care", "hepatitis_b_decision")
    put_off = [row for row in doses if set(reasons_of([row])) & {"declined", "later"}]
    decided = [*given(doses), *put_off, *done(talks)]
    first = first_minute(decided)
    return [
        Facts(
            is_documented=bool(doses or talks),
            is_usable=first is not None,
            not_done=()
            if decided or may_be_done(talks) or may_be_given(doses)
            else (*reasons_of(doses), *not_done_reasons(talks)),
            minutes=first,
            due_minutes=_until_leaving(newborn, setting["at_most"]),
            closes_minutes=setting["at_most"],
        )
    ]


def maternal_hepatitis_b_known(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Positive or negative, from minute 0 where it was known before birth."""
    unusable = newborn.admission.unusable
    status = newborn.get("maternal_hepatitis_b")
    since = newborn.get("maternal_hepatitis_b_minutes")
    is_usable = not unusable & {"maternal_hepatitis_b", "maternal_hepatitis_b_minutes"}
    is_known = is_usable and status in {"positive", "negative"}
    return [
        Facts(
            is_documented=status is not None or "maternal_hepatitis_b" in unusable,
            is_usable=is_usable,
            minutes=max(Fraction(0), since or Fraction(0)) if is_known else None,
        )
    ]
