"""The worklist's own words (``worklist.toml``), and what a unit's file says of it instead."""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError
from pipelines.definitions.read_units import Unit
from pipelines.definitions.spec_checks import refuse_unknown

_DECLARED: Final[Mapping[str, Any]] = tomllib.loads(
    Path(__file__).with_name("worklist.toml").read_text(encoding="utf-8")
)
READ_NOW: Final[int] = _DECLARED["read_now"]
SAMPLE: Final[int] = _DECLARED["sample"]
# Outcome -> (how it is said of one newborn, of several).
OUTCOMES: Final = {
    name: (str(said["one"]), str(said["many"])) for name, said in _DECLARED["outcomes"].items()
}
_KEYS: Final = {"find_chart", "filled"}


def find_chart(unit: Unit) -> str:
    """Return the sentence that says how a chart is found with the study key.

    Raises DeclarationError naming the unit's file and the key.
    """
    return _text(unit, "find_chart") or str(_DECLARED["find_chart"])


def filled_files(unit: Unit) -> list[Path]:
    """Return the worklists that came back, beside the unit's file, in order of their names.

    ``filled`` names one file, or several by a pattern such as ``worklist*.csv``; of a pattern
    none may be there yet. Raises DeclarationError where a file that is named is not there.
    """
    pattern = _text(unit, "filled")
    if pattern is None or unit.path is None:
        return []
    if Path(pattern).is_absolute() or ".." in Path(pattern).parts:
        raise DeclarationError(
            f"{unit.path.name} [worklist] filled: name files beside the unit's file, or in a "
            "folder there."
        )
    found = sorted(unit.path.parent.glob(pattern))
    if not found and not set(pattern) & set("*?["):
        raise DeclarationError(f"{unit.path.name} [worklist] filled: there is no file {pattern}.")
    return found


def _text(unit: Unit, key: str) -> str | None:
    where = f"{unit.file_name} [worklist]"
    refuse_unknown(where, unit.worklist, _KEYS)
    value = unit.worklist.get(key)
    if value is not None and (not isinstance(value, str) or not value.strip()):
        raise DeclarationError(f"{where} {key}: write words in quotes.")
    return value
