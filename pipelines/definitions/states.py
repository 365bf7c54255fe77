"""The states of a newborn in a measure and the severities of a flag: ``states.toml``, read once.

Also the counts that are made of the states, which ``measure.result`` has as columns.
"""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

_DECLARED: Final[Mapping[str, Any]] = tomllib.loads(
    Path(__file__).with_name("states.toml").read_text(encoding="utf-8")
)
_STATES: Final[Mapping[str, Any]] = _DECLARED["states"]
_SEVERITIES: Final[Mapping[str, Any]] = _DECLARED["severities"]


def _words(declared: Mapping[str, Any], place: str) -> dict[str, str]:
    return {
        name: str(spec["words"][place]) for name, spec in declared.items() if place in spec["words"]
    }


def state_words(place: str) -> dict[str, str]:
    """Return state -> its words at one place of ``states.toml``, in reading order.

    >>> state_words("apart")
    {'exception': 'Left out for an accepted reason', 'exclusion': 'Not counted'}
    """
    return _words(_STATES, place)


def severity_words(place: str) -> dict[str, str]:
    """Return severity -> its words at one place, the surest first.

    >>> severity_words("title")["query"]
    'unlikely'
    """
    return _words(_SEVERITIES, place)


def _urgencies(declared: Mapping[str, Any]) -> dict[str, int]:
    return {name: spec["urgency"] for name, spec in declared.items() if "urgency" in spec}


STATES: Final = tuple(_STATES)
# Nobody can say from the record whether care was given.
UNKNOWN: Final = tuple(name for name, spec in _STATES.items() if spec.get("is_known") is False)
# What is missed where higher is better, known or not.
MISSED: Final = tuple(state_words("sentence"))
SEVERITIES: Final = tuple(_SEVERITIES)
OPEN_SEVERITIES: Final = tuple(name for name, spec in _SEVERITIES.items() if spec["is_open"])
STATE_URGENCY: Final = _urgencies(_STATES)

# ``not_in_numerator`` is what is left of the rate's base: with the numerator it gives the rate,
# so it is published, and a small one is as telling as a small numerator.
COUNTS: Final = (
    "initial_population",
    "exclusion",
    "denominator",
    "exception",
    "numerator",
    "not_in_numerator",
    *MISSED,
)
