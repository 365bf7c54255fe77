"""How grave a miss is: the levels of ``gravity.toml``, and what a measure's header says of itself.

A header says ``level`` and ``why``, and apart from them whatever differs: by state (late, not
documented), by band, or by ``grade``, a word that the measure's select gives to single rows (the
tier of a finding, how cold the reading was).
"""

import tomllib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.states import MISSED, UNKNOWN

_DECLARED: Final[Mapping[str, Any]] = tomllib.loads(
    Path(__file__).with_name("gravity.toml").read_text(encoding="utf-8")
)
_LEVELS: Final[Mapping[str, Mapping[str, str]]] = _DECLARED["levels"]
LEVELS: Final = tuple(_LEVELS)  # gravest first
LEVEL_WORDS: Final = {name: spec["words"] for name, spec in _LEVELS.items()}
LEVEL_MEANING: Final = {name: spec["meaning"] for name, spec in _LEVELS.items()}
TIERS: Final = {name: spec["tier"] for name, spec in _LEVELS.items()}
GRAVEST: Final = LEVELS[0]
DEFAULT_LEVEL: Final[str] = _DECLARED["default"]["level"]
DEFAULT_WHY: Final[str] = _DECLARED["default"]["why"]
LOCAL: Final[str] = _DECLARED["source"]["default"]
# What is less sure than a miss that is written down.
LESS_SURE: Final = ("late", *UNKNOWN)
ANY_GRADE: Final = ""
_PART_KEYS: Final = {"level", "why", "source", "states"}


@dataclass(frozen=True)
class Part:
    """The gravity of one part of a measure: all of it, a band, a grade, or a state of these."""

    level: str = DEFAULT_LEVEL
    why: str = DEFAULT_WHY
    source: str = LOCAL
    states: Mapping[str, "Part"] = field(default_factory=dict)

    def of(self, state: str) -> "Part":
        """Return what holds of one state: what is said of it, else what the level says."""
        if state in self.states:
            return self.states[state]
        level = _LEVELS[self.level]["less_sure"] if state in LESS_SURE else self.level
        return Part(level, self.why, self.source)


@dataclass(frozen=True)
class Gravity:
    """What a measure's header says: of all its rows, of its bands and of single grades."""

    whole: Part = field(default_factory=Part)
    bands: Mapping[str, Part] = field(default_factory=dict)
    grades: Mapping[str, Part] = field(default_factory=dict)

    def parts(self, band: str | None) -> Iterator[tuple[str, Part]]:
        """Give (grade, part) of one band, or of a measure without bands; grade '' is any."""
        yield ANY_GRADE, self.whole if band is None else self.bands.get(band, self.whole)
        yield from self.grades.items()


def states_of(direction: str) -> tuple[str, ...]:
    """Return the states that have a gravity: the misses, or that what is not wanted happened.

    >>> states_of("lower")
    ('met', 'not_documented', 'unusable')
    """
    return ("met", *UNKNOWN) if direction == "lower" else MISSED


def check_level(where: str, level: object) -> str:
    """Return the level. Raises DeclarationError naming the place and the nearest level."""
    if level not in LEVELS:
        raise DeclarationError(
            f"{where}: gravity '{level}' is not known.{nearest(str(level), LEVELS)}"
        )
    return str(level)


def read_gravity(
    where: str, spec: object, bands: Collection[str], states: Collection[str]
) -> Gravity:
    """Read ``[gravity]`` of a header; without one, process for want of anything said.

    Raises DeclarationError naming the file and the key.
    """
    if spec is None:
        return Gravity()
    if not isinstance(spec, Mapping) or "level" not in spec or "why" not in spec:
        raise DeclarationError(f"{where} needs a level and a why, its reason in words.")
    _known(where, spec, _PART_KEYS | {"bands", "grades"})
    _known(f"{where} bands", spec.get("bands", {}), bands)
    whole = _part(where, {key: spec[key] for key in _PART_KEYS & set(spec)}, Part(), states)
    inner = {
        kind: {
            name: _part(f"{where} {kind} '{name}'", part, whole, states)
            for name, part in spec.get(kind, {}).items()
        }
        for kind in ("bands", "grades")
    }
    return Gravity(whole, inner["bands"], inner["grades"])


def _part(where: str, spec: object, outer: Part, states: Collection[str]) -> Part:
    """Read a level, or a table of a ``Part``'s fields; what it leaves out is ``outer``'s."""
    given: Mapping[str, Any] = spec if isinstance(spec, Mapping) else {"level": spec}
    _known(where, given, _PART_KEYS)
    level = check_level(where, given.get("level", outer.level))
    own = Part(level, str(given.get("why", outer.why)), str(given.get("source", outer.source)))
    _known(f"{where} states", given.get("states", {}), states)
    inner = {
        state: _part(f"{where} state '{state}'", part, own, ())
        for state, part in given.get("states", {}).items()
    }
    return Part(own.level, own.why, own.source, inner)


def _known(where: str, given: Mapping[str, Any], known: Collection[str]) -> None:
    for key in given:
        if key not in known:
            raise DeclarationError(f"{where}: '{key}' is not known.{nearest(key, sorted(known))}")
