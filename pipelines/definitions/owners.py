"""Whose event it is: who owns what a measure asks for, and how a newborn's way then ends it.

Said once, for all measures: the engine makes exclusions and exceptions of it, pages and the
dictionary the words. What was seen before a newborn moved, died or was cooled counts; a move ends
what could not be done any more (an exception), a death or a plan of comfort sets it apart.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.read_contract import read_contract

# (when, reason) in SQL over `way` and `known`, the facts with their setting.
When = tuple[str, str]
_TOO_LATE: Final[When] = (
    "way.born <> 'here' and way.arrived_minutes >= known.arrived_before",
    "arrived too late",
)
_NO_ARRIVAL: Final[When] = (
    "way.born = 'elsewhere' and way.arrived_minutes is null",
    "arrival not known",
)


@dataclass(frozen=True)
class Owner:
    """Who owns an event: in words, and whom it therefore leaves out."""

    meaning: str
    sets_apart: tuple[When, ...] = ()
    # Whether the way ends it: not so for what is judged where and when it was recorded.
    is_ended: bool = True
    needs_arrival: bool = False
    # What says whose event it is. One newborn without it counts as born here, for most are; a unit
    # in which nobody has it would claim every birth as its own without a word.
    needs: tuple[str, ...] = ()


_PLACE: Final = ("admission.birth_place",)

OWNERS: Final[Mapping[str, Owner]] = {
    "born_here": Owner(
        "the unit in which the newborn was born",
        (
            ("way.born = 'on_the_way'", "born on the way"),
            ("way.born = 'elsewhere'", "born elsewhere"),
        ),
        needs=_PLACE,
    ),
    "born_here_or_arrived": Owner(
        "the unit in which the newborn was born, or to which it was brought early enough",
        (_TOO_LATE, _NO_ARRIVAL),
        needs_arrival=True,
        needs=_PLACE,
    ),
    "present": Owner("the unit in which the newborn was", (_TOO_LATE,)),
    "recorded": Owner("the unit that recorded it", is_ended=False),
}
# What going home does: the event was owed before, or could no longer be done.
DUE, ENDS = "due", "ends"
GOING_HOME: Final = (DUE, ENDS)
# The one standard exclusion that an owner does not imply: cooling means to be cold.
COOLING: Final = "cooling"
IMPLIED: Final = ("stillborn", "died", "comfort_care", "transferred", "born_elsewhere")

DIED, COMFORT, COOLED = "died", "comfort care", "cooled"
_BEFORE: Final = "before the window closed"
MOVED, WENT_HOME = f"moved {_BEFORE}", f"went home {_BEFORE}"
# Reasons of the way, which nobody gave.
ENDED: Final = (MOVED, WENT_HOME)


def exclusions(owner: str, exclude: tuple[str, ...], has_arrival: bool) -> list[When]:
    """Return when a newborn is set apart and why, in SQL; the first that holds is the reason.

    Reads ``newborn``, ``way``, ``known`` and, of the row, ``closes`` and ``judged``: the minute at
    which the record had settled it either way, null where it never did.
    """
    spec = OWNERS[owner]
    found: list[When] = [("not newborn.live_birth", "stillborn")]
    found += [one for one in spec.sets_apart if has_arrival or one != _TOO_LATE]
    if spec.is_ended:
        found.append((_ended("way.died_minutes"), f"{DIED} {_BEFORE}"))
        found.append((_begun("way.comfort_care_minutes"), f"{COMFORT} {_BEFORE}"))
    if COOLING in exclude:
        found.append((_begun("way.cooling_minutes"), f"{COOLED} {_BEFORE}"))
    return found


def exceptions(owner: str, going_home: str) -> list[When]:
    """Return what ends an event that was not met, in SQL as ``exclusions``."""
    if not OWNERS[owner].is_ended:
        return []
    found = [(_ended("way.moved_minutes"), MOVED)]
    if going_home == ENDS:
        found.append((_ended("way.home_minutes"), WENT_HOME))
    return found


def _ended(minute: str) -> str:
    """Without a time of leaving, whatever was seen was seen before: nothing is seen after it."""
    return (
        f"{minute} < closes and not (judged is not null and ({minute} = -1 or judged <= {minute}))"
    )


def _begun(minute: str) -> str:
    return f"{minute} < closes and not coalesce(judged < {minute}, false)"


def _one_of(where: str, key: str, value: str, allowed: Iterable[str]) -> None:
    if value not in allowed:
        raise DeclarationError(f"{where}: {key} '{value}' is not known.{nearest(value, allowed)}")


def check_owner(where: str, header: Mapping[str, Any]) -> None:
    """Check whose event it is and whom it is about, and that nothing is said that this implies.

    Raises DeclarationError naming file and key.
    """
    owner = str(header.get("owner"))
    _one_of(where, "owner", owner, OWNERS)
    _one_of(where, "going_home", str(header.get("going_home", DUE)), GOING_HOME)
    for name in header.get("exclude", ()):
        if name in IMPLIED:
            raise DeclarationError(
                f"{where}: exclude '{name}' is for the owner to say; take it out (owner = "
                f"'{owner}')."
            )
        _one_of(where, "exclude", name, [COOLING])
    columns = [f"admission.{name}" for name in read_contract()["admission"].columns]
    for name in header.get("population_needs", ()):
        _one_of(where, "population_needs", name, columns)
    _check_arrival(where, OWNERS[owner], owner, header.get("arrived_before"))


def _check_arrival(where: str, owner: Owner, name: str, minutes: Any) -> None:
    may_have = owner.needs_arrival or name == "present"
    if (minutes is None and owner.needs_arrival) or (minutes is not None and not may_have):
        raise DeclarationError(
            f"{where}: arrived_before (minutes after birth) goes with owner = "
            "'born_here_or_arrived', which needs it, or 'present'."
        )
    if minutes is not None and (isinstance(minutes, bool) or not isinstance(minutes, int | float)):
        raise DeclarationError(f"{where}: arrived_before must be a number of minutes.")
