"""What kind of value each key of a unit's file takes (``unit_shape.toml``); checked first."""

import datetime as dt
import math
import tomllib
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any, Final

from pipelines.base.errors import DeclarationError
from pipelines.definitions.spec_checks import DATE_HOW, is_date

_HOME: Final = Path(__file__).with_suffix(".toml")
_ANY: Final = "*"
_EACH: Final = "[]"
_ALLOWED: Final = "\t\n\r"  # of control characters: a delimiter, and words over several lines


def _is_words(value: object) -> bool:
    return isinstance(value, str)


def _is_list(value: object) -> bool:
    return isinstance(value, list) and all(map(_is_words, value))


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(one, dict) for one in value)


def _is_file(value: object) -> bool:
    """Return whether a name stays in its folder, on either kind of machine."""
    if not isinstance(value, str) or not value.strip():
        return False
    both = PurePosixPath(value), PureWindowsPath(value)
    return all(not path.anchor and ".." not in path.parts for path in both)


# Kind -> whether a value is one, and how to write it.
_KINDS: Final[Mapping[str, tuple[Callable[[Any], bool], str]]] = {
    "words": (_is_words, "write words in quotes"),
    "list": (_is_list, 'write a list of words, such as ["a", "b"]'),
    "words_or_list": (lambda v: _is_words(v) or _is_list(v), "write words in quotes, or a list"),
    "words_or_table": (
        lambda v: _is_words(v) or isinstance(v, dict),
        "write words in quotes, or { key = ... }",
    ),
    "words_list_or_table": (
        lambda v: _is_words(v) or _is_list(v) or isinstance(v, dict),
        "write words in quotes, a list, or { key = ... }",
    ),
    "yes_no": (lambda v: isinstance(v, bool), "write true or false"),
    "date": (is_date, DATE_HOW),
    "setting": (
        lambda v: isinstance(v, str | bool | int | float),
        "write a number, true or false, or words in quotes",
    ),
    "table": (lambda v: isinstance(v, dict), "write a table"),
    "tables": (_is_tables, "write one or more tables, each under its heading in [[ ]]"),
    "file": (_is_file, "name a file in the folder where it is looked for, without .. or a root"),
}


@cache
def kinds() -> Mapping[tuple[str, ...], str]:
    """Return place -> kind, of every key whose kind is known."""
    told = tomllib.loads(_HOME.read_text(encoding="utf-8"))
    return {tuple(place.split(".")): kind for place, kind in told.items()}


def _as_declared(place: tuple[str, ...]) -> tuple[str, ...]:
    """Return a place as the file of kinds has it: its last key by name, else as any key."""
    any_key = (*place[:-1], _ANY)
    return any_key if place not in kinds() and any_key in kinds() else place


def check_shape(where: str, spec: Mapping[str, Any]) -> None:
    """Hold every key of a unit's file to its kind.

    Raises DeclarationError naming the file, the place and how to write it.
    """
    for said, shape, value in _walk(spec, "", ()):
        here = f"{where} {said}"
        _check_plain(here, value)
        kind = kinds().get(shape)
        if kind is None:
            continue
        is_one, how = _KINDS[kind]
        if not is_one(value):
            raise DeclarationError(f"{here}: {_found(value)} stands here; {how}.")


def _walk(
    value: Any, said: str, shape: tuple[str, ...]
) -> Iterator[tuple[str, tuple[str, ...], Any]]:
    """Yield how a place is said, its place in the file of kinds, and its value; outside first."""
    if shape:
        yield said, shape, value
    if isinstance(value, dict):
        for key, one in value.items():
            _check_plain(f"{said or 'a key'}", key)
            inner = _as_declared((*shape, key))
            yield from _walk(one, f"{said}.{key}" if said else key, inner)
    elif isinstance(value, list):
        for place, one in enumerate(value, start=1):
            yield from _walk(one, f"{said}[{place}]", (*shape, _EACH))


def _check_plain(where: str, value: Any) -> None:
    if isinstance(value, float) and not math.isfinite(value):
        raise DeclarationError(f"{where}: nan and inf are no numbers to work with; write a number.")
    if isinstance(value, str) and any(
        unicodedata.category(each) == "Cc" and each not in _ALLOWED for each in value
    ):
        raise DeclarationError(f"{where}: a control character stands in the words; take it out.")


def _found(value: Any) -> str:
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, int | float):
        return "a number"
    if isinstance(value, str):
        return "text" if value.strip() else "empty text"
    if isinstance(value, list):
        return "a list" if _is_list(value) else "a list that is not all words"
    if isinstance(value, dt.datetime):
        return "a date with a time"
    return "a table" if isinstance(value, dict) else "a date or time"
