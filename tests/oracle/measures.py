"""The shipped measures in plain Python, from the prose of their headers alone.

Each function takes one newborn and the numbers in force for it, and returns what the
records say as `Facts`; `engine` turns them into states. A module holds one group of measures,
and a function has the name of its measure: that is how it is found.
"""

from collections.abc import Callable
from inspect import signature
from types import FunctionType, ModuleType

from . import (
    measures_contact,
    measures_first_days,
    measures_hepatitis_b,
    measures_identity,
    measures_leaving,
    measures_observations,
    measures_protection,
    measures_record,
    measures_screening,
    measures_telling,
    measures_warmth,
)
from .engine import Facts, Member, Setting, Settings, members_of, read_header
from .reader import PIPELINES, Newborn, UnitExport

Measure = Callable[[Newborn, Setting], list[Facts]]
GROUPS: tuple[ModuleType, ...] = (
    measures_warmth,
    measures_observations,
    measures_identity,
    measures_protection,
    measures_hepatitis_b,
    measures_contact,
    measures_screening,
    measures_telling,
    measures_record,
    measures_first_days,
    measures_leaving,
)


def measure_files() -> list[str]:
    """Return the id of every shipped measure."""
    return sorted(path.stem for path in (PIPELINES / "definitions" / "measures").glob("*.sql"))


def is_measure(found: object) -> bool:
    """Whether something in a group's module is a measure: a public function that gives facts."""
    if not isinstance(found, FunctionType) or found.__name__.startswith("_"):
        return False
    about = signature(found)
    takes = list(about.parameters) == ["newborn", "setting"]
    return takes and about.return_annotation == list[Facts]


def function_of(measure_id: str) -> Measure | None:
    """Return the oracle's function of a measure, None where nobody has written one."""
    homes = (group for group in GROUPS if hasattr(group, measure_id))
    return next((getattr(home, measure_id) for home in homes), None)


MEASURES: dict[str, Measure] = {
    name: found for name in measure_files() if (found := function_of(name)) is not None
}


def membership(export: UnitExport) -> list[Member]:
    """Recompute the membership of every measure for one unit's newborns."""
    members: list[Member] = []
    settings = Settings(export.spec)
    for measure_id, facts_of in MEASURES.items():
        header = read_header(measure_id)
        for newborn in export.newborns:
            setting = settings.of(header, newborn.policy_date)
            for facts in facts_of(newborn, setting):
                members.extend(members_of(header, setting, newborn, facts))
    return members
