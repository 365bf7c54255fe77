"""The stories of the demo, read from ``stories.toml``: the one home of what is planted and why."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from pipelines.definitions.read_units import Unit
from synthetic_data.scenario import Scenario

STORIES_FILE: Final = Path(__file__).parent / "stories.toml"
CHANGE, HARM, SENTINEL, GAP, OUTLIER = "change", "harm", "sentinel", "silent_gap", "outlier"


@dataclass(frozen=True)
class Story:
    """One planted story: in which unit and measure, from which month (YYYY-MM) on, how much.

    ``size`` is a share from 0 to 1, ``minutes`` what the kind makes of it; ``group`` the newborns
    it is confined to (column of admission -> value); ``change`` the id in the unit's log.
    """

    id: str
    kind: str
    unit: str
    measure: str
    month: str
    what: str
    why: str
    size: float = 1.0
    minutes: float = 0.0
    group: Mapping[str, str] = field(default_factory=dict)
    change: str | None = None


def read_stories(without: Iterable[str] = ()) -> tuple[Story, ...]:
    """Return the demo's stories in the order of the file, but for the ids in ``without``."""
    told = tomllib.loads(STORIES_FILE.read_text(encoding="utf-8"))["stories"]
    left_out = set(without)
    return tuple(Story(**one) for one in told if one["id"] not in left_out)


def without_changes(scenario: Scenario, changes: Iterable[str | None]) -> Scenario:
    """Return the scenario in which these changes of a unit's log do nothing."""
    silent = set(changes)
    effects = [one for one in scenario.numbers["effects"] if one["change"] not in silent]
    return replace(scenario, numbers={**scenario.numbers, "effects": effects})


def of_unit(stories: Iterable[Story], unit: Unit) -> tuple[Story, ...]:
    """Return the stories that are planted in this unit."""
    return tuple(one for one in stories if one.unit == unit.id)
