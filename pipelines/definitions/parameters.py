"""What has changed where a unit changes one of its numbers, in words for a page."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from pipelines.definitions.measure_words import plain_number, time_words

_FILE = Path(__file__).with_name("parameters.toml")
# The end of a number's name -> what is written behind the number. The longest end is found first.
_ENDS = {
    "_mg_per_kg": "mg/kg",
    "_mg_dl": "mg/dL",
    "_percent": "%",
    "_minutes": "min",
    "at_least": "min",
    "at_most": "min",
    "arrived_before": "min",
    "_seconds": "s",
    "_weeks": "weeks",
    "_mg": "mg",
    "_c": "°C",
    "_g": "g",
}
_SHARES = {"target", "share_needed", "tolerance"}


@cache
def parameter_words() -> Mapping[str, str]:
    """Return name of a number -> what it is called on a page (``parameters.toml``)."""
    return dict(tomllib.loads(_FILE.read_text(encoding="utf-8")))


def change_words(name: str, before: object, after: object) -> str:
    """Say that the number ``name`` has changed.

    >>> change_words("at_most", 60.0, 30)
    'time allowed from 60 min to 30 min'
    >>> change_words("universal_profile", True, False)
    'vaccine at birth for every newborn from yes to no'
    """
    called = parameter_words().get(name, name.replace("_", " "))
    return f"{called} from {_said(name, before)} to {_said(name, after)}"


def column_words(name: str) -> tuple[str, str]:
    """Return a title and a symbol for a column whose unit stands at its end.

    >>> column_words("room_temperature_c")
    ('Room temperature', '°C')
    """
    ends = (end for end in _ENDS if end.startswith("_") and name.endswith(end))
    end = next(ends, "")
    return name.removesuffix(end).replace("_", " ").capitalize(), _ENDS.get(end, "")


def _said(name: str, value: object) -> str:
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return _measured(name, value) if isinstance(value, int | float) else str(value)


def _measured(name: str, value: float) -> str:
    if name in _SHARES:
        return f"{plain_number(round(value * 100, 9))} %"
    is_known = name in parameter_words()
    ends = (said for end, said in _ENDS.items() if is_known and name.endswith(end))
    unit = next(ends, "")
    if unit == "min" and value >= 120 and value % 60 == 0:
        return time_words(value)
    return f"{plain_number(value)} {unit}".rstrip()
