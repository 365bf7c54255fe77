"""What DEVELOPERS.md says of settings, exclusions and states, in loops over newborns.

Shares no code with `pipelines`. From a measure's `.sql` file only the header is read
(window, parameters, exclusions, treatment of missing): the numbers have their home there.
"""

import datetime as dt
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any, NamedTuple

from .reader import PIPELINES, Newborn
from .way import began, died_at, home_at, moved_at, not_owned, was_begun, was_left

NOT_APPLICABLE = "not applicable by policy"
CLOSED = "before the window closed"


@dataclass(frozen=True, slots=True)
class Facts:
    """What a measure says of one newborn (or one ``item`` of it); times in minutes.

    ``exception`` and ``not_done`` list every reason on the record: where there are several,
    no prose says which one the store shows, so any of them agrees. ``tied`` is the first item
    of the same minute, among which no prose says the order.
    """

    is_documented: bool
    is_usable: bool
    item: int = 1
    tied: int | None = None
    exclusion: str | None = None
    exception: tuple[str, ...] = ()
    not_done: tuple[str, ...] = ()
    minutes: Fraction | None = None
    due_minutes: Fraction | None = None
    closes_minutes: Fraction | None = None
    judged_minutes: Fraction | None = None
    is_met: bool | None = None
    value: Fraction | None = None


class Member(NamedTuple):
    """One row of membership; ``period`` is YYYY-MM or None; any of ``reasons`` may be shown."""

    record_id: str
    measure_id: str
    item: int
    state: str
    minutes: Fraction | None
    due_minutes: Fraction | None = None
    reasons: tuple[str, ...] = ()
    period: str | None = None
    tied: int | None = None


@dataclass(frozen=True)
class Band:
    """A band of values, ``at_least`` inside and ``below`` outside; None is open."""

    id: str
    at_least: Fraction | None
    below: Fraction | None

    def holds(self, value: Fraction) -> bool:
        """Whether the value lies in the band."""
        above = self.at_least is None or value >= self.at_least
        return above and (self.below is None or value < self.below)


@dataclass(frozen=True)
class Header:
    """The numbers of one measure's header."""

    id: str
    kind: str
    owner: str
    ends_at_home: bool
    is_for_warm: bool
    missing: str
    numbers: Mapping[str, Any]
    follows: Mapping[str, str]
    bands: tuple[Band, ...] = ()

    @property
    def result_ids(self) -> tuple[str, ...]:
        """The measures this file gives: itself, or one for each band."""
        return tuple(f"{self.id}_{band.id}" for band in self.bands) or (self.id,)


class Setting:
    """A measure's numbers for one newborn, after the unit's policy of its birth date."""

    def __init__(self, said: Mapping[str, Any], tiers: Mapping[str, Any]) -> None:
        self.said = said
        self.tiers = tiers
        self.numbers = {
            key: Fraction(str(value))
            for key, value in said.items()
            if isinstance(value, int | float) and not isinstance(value, bool)
        }

    def __getitem__(self, name: str) -> Fraction:
        return self.numbers[name]

    def get(self, name: str) -> Fraction | None:
        """Return a number, None where neither the header nor the policy gives one."""
        return self.numbers.get(name)

    def is_on(self, name: str) -> bool:
        """Return a switch."""
        return bool(self.said[name])

    def words(self, name: str) -> tuple[str, ...]:
        """Return a list of words written with commas, in lower case."""
        listed = (word.strip().casefold() for word in str(self.said[name]).split(","))
        return tuple(word for word in listed if word)


def _exact(value: Any) -> Fraction | None:
    return None if value is None else Fraction(str(value))


def header_of(measure_id: str) -> dict[str, Any]:
    """Return the header, and only the header, of one shipped measure as its TOML says."""
    path = PIPELINES / "definitions" / "measures" / f"{measure_id}.sql"
    return tomllib.loads(path.read_text(encoding="utf-8").split("/*", 1)[1].split("*/", 1)[0])


@cache
def read_header(measure_id: str) -> Header:
    """Read what the oracle needs of one shipped measure's header."""
    said = header_of(measure_id)
    bands = tuple(
        Band(band["id"], _exact(band.get("at_least")), _exact(band.get("below")))
        for band in said.get("bands", ())
    )
    return Header(
        measure_id,
        said["kind"],
        said["owner"],
        said.get("going_home") == "ends",
        "cooling" in said.get("exclude", ()),
        said["missing"],
        {
            **said.get("window", {}),
            **{key: said[key] for key in ("arrived_before",) if key in said},
            "applies": True,
            **said.get("parameters", {}),
        },
        said.get("follows", {}),
        bands,
    )


# --- the numbers in force ------------------------------------------------------------------------


def _has_begun(policy: Mapping[str, Any], born_on: dt.date | None) -> bool:
    start = policy.get("from")
    return start is None or (born_on is not None and born_on >= start)


def _said_by(policy: Mapping[str, Any], header: Header) -> dict[str, Any]:
    """What one policy sets for a measure, itself or through a measure that it follows."""
    if policy["measure"] == header.id:
        return {key: policy[key] for key in policy if key not in {"measure", "from"}}
    followed = [key for key, other in header.follows.items() if other == policy["measure"]]
    return {key: policy[key] for key in followed if key in policy}


def _tiers_of(spec: Mapping[str, Any]) -> dict[str, dict[str, int]]:
    """Return kind -> detail in lower case -> tier: the starter list, overlaid by the unit's.

    Detail '' holds whatever the detail.
    """
    path = PIPELINES / "definitions" / "findings.toml"
    starter = tomllib.loads(path.read_text(encoding="utf-8"))["tiers"]
    listed = {**starter, **spec.get("findings", {}).get("tiers", {})}
    return {
        kind: {detail.strip().casefold(): int(tier) for detail, tier in said.items()}
        if isinstance(said, dict)
        else {"": int(said)}
        for kind, said in listed.items()
    }


class Settings:
    """The settings of one unit, by measure and birth date."""

    def __init__(self, spec: Mapping[str, Any]) -> None:
        # A later policy goes over an earlier one; of one day, the later in the file.
        self.policies = sorted(spec.get("policy", ()), key=lambda one: str(one.get("from", "")))
        self.tiers = _tiers_of(spec)
        self.known: dict[tuple[str, dt.date | None], Setting] = {}

    def of(self, header: Header, born_on: dt.date | None) -> Setting:
        """Header numbers, overlaid by the unit's policies in force on the birth date.

        A newborn whose birth date is not known gets only the policies that have no start.
        """
        key = (header.id, born_on)
        if key not in self.known:
            said = dict(header.numbers)
            for policy in self.policies:
                if _has_begun(policy, born_on):
                    said |= _said_by(policy, header)
            self.known[key] = Setting(said, self.tiers)
        return self.known[key]


# --- whose event it is, and what ended it ------------------------------------------------------


def _standard_exclusions(
    header: Header,
    setting: Setting,
    newborn: Newborn,
    closes: Fraction | None,
    settled: Fraction | None,
) -> tuple[str, ...]:
    """Return every reason why the newborn is set apart; any of them may be shown."""
    alien = not_owned(newborn, header.owner, setting.get("arrived_before"))
    comfort, cooling = began(newborn, "comfort_care"), began(newborn, "cooling")
    is_ended = header.owner != "recorded"
    found = {
        "stillborn": newborn.get("live_birth") is False,
        alien: alien is not None,
        f"died {CLOSED}": is_ended and was_left(died_at(newborn), closes, settled),
        f"comfort care {CLOSED}": is_ended and was_begun(comfort, closes, settled),
        f"cooled {CLOSED}": header.is_for_warm and was_begun(cooling, closes, settled),
    }
    return tuple(reason for reason, holds in found.items() if holds and reason)


def _ended(
    header: Header, newborn: Newborn, closes: Fraction | None, settled: Fraction | None
) -> tuple[str, ...]:
    """Return what ended an event before it could be done or seen not to have been."""
    if header.owner == "recorded":
        return ()
    found = (f"moved {CLOSED}",) * was_left(moved_at(newborn), closes, settled)
    if header.ends_at_home and was_left(home_at(newborn), closes, settled):
        found += (f"went home {CLOSED}",)
    return found


# --- state, in the engine's order --------------------------------------------------------------


def _is_within(facts: Facts, setting: Setting, due: Fraction | None) -> bool:
    low = setting.get("at_least") or 0
    return facts.minutes is not None and due is not None and low <= facts.minutes <= due


def _is_after(minutes: Fraction | None, due: Fraction | None) -> bool:
    return minutes is not None and due is not None and minutes > due


def _is_met(facts: Facts, kind: str, band: Band | None, is_within: bool) -> bool:
    if band is not None:
        return facts.value is not None and band.holds(facts.value)
    if kind == "minutes":
        return facts.minutes is not None
    return is_within if facts.is_met is None else facts.is_met


def state_of(facts: Facts, excluded: bool, excepted: bool, is_met: bool, is_late: bool) -> str:
    """Derive the state in the order DEVELOPERS.md gives."""
    in_order = {
        "exclusion": excluded,
        "met": is_met and facts.is_documented and facts.is_usable,
        "exception": excepted,
        "not_done": bool(facts.not_done),
        "not_documented": not facts.is_documented,
        "unusable": not facts.is_usable,
        "late": is_late,
    }
    return next((state for state, holds in in_order.items() if holds), "not_met")


def _settled(facts: Facts, is_met: bool) -> Fraction | None:
    """The minute from which the record settles it either way."""
    if facts.judged_minutes is not None:
        return facts.judged_minutes
    is_seen = is_met and facts.is_documented and facts.is_usable
    return (facts.minutes or Fraction(0)) if is_seen else None


def _exclusions(
    header: Header,
    setting: Setting,
    newborn: Newborn,
    facts: Facts,
    times: tuple[Fraction | None, Fraction | None],
) -> tuple[str, ...]:
    if not setting.is_on("applies"):
        return (NOT_APPLICABLE,)
    own = (facts.exclusion,) if facts.exclusion is not None else ()
    return own + _standard_exclusions(header, setting, newborn, *times)


def members_of(
    header: Header, setting: Setting, newborn: Newborn, facts: Facts
) -> Iterator[Member]:
    """Yield the membership rows of one newborn's facts: one, or one per band."""
    due = setting.get("at_most") if facts.due_minutes is None else facts.due_minutes
    closes = due if facts.closes_minutes is None else facts.closes_minutes
    has_window = facts.is_met is None and not header.bands and due is not None
    is_within = _is_within(facts, setting, due)
    is_late = has_window and _is_after(facts.minutes, due)
    for measure_id, band in zip(header.result_ids, header.bands or (None,), strict=True):
        is_met = _is_met(facts, header.kind, band, is_within)
        times = (closes, _settled(facts, is_met))
        exclusions = _exclusions(header, setting, newborn, facts, times)
        exception = facts.exception + _ended(header, newborn, *times)
        state = state_of(facts, bool(exclusions), bool(exception), is_met, is_late)
        reasons = {"exclusion": exclusions, "exception": exception, "not_done": facts.not_done}
        yield Member(
            newborn.record_id,
            measure_id,
            facts.item,
            state,
            None if state == "exclusion" else facts.minutes,
            due if has_window else None,
            reasons.get(state, ()),
            newborn.period,
            facts.tied,
        )
