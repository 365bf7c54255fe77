"""The scenario: every number behind the synthetic newborns, read from ``scenario.toml``."""

import datetime as dt
import math
import tomllib
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.read_units import Unit

SCENARIO_FILE = Path(__file__).parent / "scenario.toml"
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Scenario:
    """Named numbers, by section; ``scenario["delay"]["vitamin_k"]``."""

    numbers: Mapping[str, Any]

    def __getitem__(self, section: str) -> Mapping[str, Any]:
        found: Mapping[str, Any] = self.numbers[section]
        return found


def _merge(where: str, shipped: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """Lay ``own`` over ``shipped``; a table whose keys are data is replaced whole."""
    merged = dict(shipped)
    for key, value in own.items():
        if key not in shipped:
            raise DeclarationError(f"{where}: key '{key}' is not known.{nearest(key, shipped)}")
        is_section = isinstance(value, dict) and not _are_shares(shipped[key])
        merged[key] = _merge(f"{where} [{key}]", shipped[key], value) if is_section else value
    return merged


def _are_shares(table: Any) -> bool:
    """Whether the keys are outcomes whose shares make up the whole."""
    if not isinstance(table, dict) or any(isinstance(value, dict) for value in table.values()):
        return False
    numbers = [value for value in table.values() if isinstance(value, int | float)]
    is_each_a_part = len(numbers) == len(table) and all(0 <= number < 1 for number in numbers)
    return is_each_a_part and math.isclose(sum(numbers), 1.0, abs_tol=0.02)


def read_scenario(path: Path | None = None) -> Scenario:
    """Read the shipped scenario, with the numbers of ``path`` laid over it where given.

    Raises DeclarationError naming file and key where a key is not known.
    """
    shipped = tomllib.loads(SCENARIO_FILE.read_text(encoding="utf-8"))
    if path is None:
        return Scenario(shipped)
    if not path.is_file():
        raise DeclarationError(f"{path}: there is no such scenario file.")
    try:
        own = tomllib.loads(path.read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise DeclarationError(f"{path.name}: not valid TOML: {error}.") from None
    return Scenario(_merge(path.name, shipped, own))


def stream(seed: int, *names: str) -> np.random.Generator:
    """Return the random stream of one purpose.

    Each purpose has its own, so that a draw added in one place moves nothing elsewhere.
    """
    return np.random.default_rng([seed, *(zlib.crc32(name.encode()) for name in names)])


def effect(
    scenario: Scenario, unit: Unit, on: str, birth_date: npt.NDArray[np.datetime64]
) -> tuple[Floats, Floats]:
    """Return what the unit's changes do to one number: (times, add), one per newborn."""
    times, add = np.ones(len(birth_date)), np.zeros(len(birth_date))
    starts: dict[str, dt.date] = {change.id: change.start for change in unit.changes}
    for spec in scenario.numbers["effects"]:
        if spec["on"] == on and spec["change"] in starts:
            since = birth_date >= np.datetime64(starts[spec["change"]])
            times[since] *= spec.get("times", 1.0)
            add[since] += spec.get("add", 0.0)
    return times, add
