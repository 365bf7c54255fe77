"""Where each shipped number comes from, as ``numbers.toml`` says it."""

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError
from pipelines.definitions.read_contract import Contract
from pipelines.definitions.read_measures import Measure

NUMBERS_FILE: Final = Path(__file__).with_name("numbers.toml")
STATUSES: Final = ("published", "memory", "definition", "local")
_BOUNDS: Final = ("before_birth_within", "before_birth_statuses")


@cache
def read_numbers() -> Mapping[str, Mapping[str, str]]:
    """Return owner -> number -> "status: words"; an owner is ``measures.ID``, ``rules.ID`` or
    ``contract``.

    Raises DeclarationError where a line says none of the statuses, or no words with it.
    """
    spec = tomllib.loads(NUMBERS_FILE.read_text(encoding="utf-8"))
    found = {"contract": spec.get("contract", {})}
    for group in ("measures", "rules"):
        found |= {f"{group}.{name}": said for name, said in spec.get(group, {}).items()}
    for owner, said in found.items():
        for name, text in said.items():
            status, _, words = text.partition(":")
            if status not in STATUSES or not words.strip():
                raise DeclarationError(
                    f"numbers.toml [{owner}] {name}: say one of {', '.join(STATUSES)}, a colon, "
                    "and the place or the reason."
                )
    return found


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def of_measure(measure: Measure) -> Iterator[str]:
    """Yield the numbers that a measure owns: window, parameters, target, bounds of its bands."""
    for name, minutes in measure.window.items():
        if minutes:  # minute 0 is birth, not a choice
            yield name
    if measure.get("target") is not None:
        yield "target"
    for name, value in measure.parameters.items():
        if _is_number(value) and name not in measure.follows:
            yield name
    for band in measure.bands:
        for end, bound in (("at_least", band.at_least), ("below", band.below)):
            if bound is not None:
                yield f"{band.id}.{end}"


def of_rule(parameters: Mapping[str, Any]) -> Iterator[str]:
    """Yield the numbers of a rule."""
    yield from (name for name, value in parameters.items() if _is_number(value))


def of_contract(contract: Contract) -> Iterator[str]:
    """Yield every column or kind of the contract that has a bound."""
    for table in contract.values():
        for column in table.columns.values():
            if column.limits.any or any(getattr(column, name) for name in _BOUNDS):
                yield f"{table.name}.{column.name}"
        yield from (f"{table.name}.{kind.name}" for kind in table.kinds.values())
