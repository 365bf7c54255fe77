"""Frames whose columns are written down, and their rows as plain Python that mypy knows.

A frame that crosses a room is declared by a TypedDict beside the place that makes it: its
docstring says the grain, each annotation the type of a column and, in ``Annotated``, its unit or
meaning. ``checked`` holds a frame to it where it is made; ``rows_of`` gives its rows, of which
mypy refuses a misspelt column.
"""

from collections.abc import Callable, Mapping
from functools import cache
from types import NoneType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

import numpy as np
import pandas as pd
from pandas.api import types

RowT = TypeVar("RowT", bound=Mapping[str, object])


class FrameError(Exception):
    """A frame is not as declared; the words say which columns, and how."""


def _is_list(value: object) -> bool:
    return isinstance(value, list | np.ndarray)


# Type of a declared column -> (is a column of it, is a value of it).
_TESTS: Mapping[object, tuple[Callable[[Any], bool], Callable[[Any], bool]]] = {
    str: (lambda dtype: isinstance(dtype, pd.StringDtype), lambda one: isinstance(one, str)),
    bool: (types.is_bool_dtype, lambda one: isinstance(one, bool | np.bool_)),
    int: (types.is_integer_dtype, lambda one: isinstance(one, int | np.integer)),
    # As in Python, where a float is asked for a whole number does.
    float: (types.is_numeric_dtype, lambda one: isinstance(one, int | float | np.number)),
    pd.Timestamp: (types.is_datetime64_any_dtype, lambda one: isinstance(one, pd.Timestamp)),
    list: (lambda dtype: False, _is_list),
    tuple: (lambda dtype: False, lambda one: isinstance(one, tuple)),
}


@cache
def columns_of(row: type[Mapping[str, object]]) -> dict[str, Any]:
    """Return the declared columns in order: name -> type, ``T | None`` where it may be missing."""
    return get_type_hints(row)


def units_of(row: type[Mapping[str, object]]) -> dict[str, str]:
    """Return what each declared column is in, or means, in a few words; blank where not said."""
    said = {}
    for name, kind in get_type_hints(row, include_extras=True).items():
        inner = kind if hasattr(kind, "__metadata__") else (get_args(kind) or (kind,))[0]
        said[name] = str(inner.__metadata__[0]) if hasattr(inner, "__metadata__") else ""
    return said


def _wrong(column: "pd.Series[Any]", kind: Any) -> str:
    """Say what is wrong with a column of type ``kind``; empty where nothing is."""
    has_gaps = column.hasnans
    plain = [one for one in get_args(kind) if one is not NoneType]
    if NoneType in get_args(kind):
        kind = plain[0]
    elif has_gaps:
        return f"has {int(column.isna().sum())} missing values"
    known = column.dropna().head(1) if has_gaps else column.head(1)
    if known.empty:  # a column without a value has no type
        return ""
    plainly = get_origin(kind) or kind
    other = (lambda _: False, lambda one: isinstance(one, plainly))
    is_column, is_value = _TESTS.get(plainly, other)
    is_right = is_value(known.iloc[0]) if column.dtype == object else is_column(column.dtype)
    name = getattr(kind, "__name__", str(kind))
    return "" if is_right else f"is {column.dtype}, not {name}"


def mistakes(frame: pd.DataFrame, row: type[Mapping[str, object]]) -> list[str]:
    """Say every way in which ``frame`` is not as ``row`` declares it."""
    declared: frozenset[str] = row.__required_keys__  # type: ignore[attr-defined]
    columns = columns_of(row)
    found = [f"column '{name}' is missing" for name in columns if name in declared - set(frame)]
    found += [f"column '{name}' is not declared" for name in frame if name not in columns]
    for name, kind in columns.items():
        wrong = _wrong(frame[name], kind) if name in frame else ""
        found += [f"column '{name}' {wrong}"] if wrong else []
    return found


def checked(frame: pd.DataFrame, row: type[Mapping[str, object]]) -> pd.DataFrame:
    """Return ``frame`` as it is.

    Raises FrameError naming each column that is missing, not declared, of another type, or
    without a value where one is needed. Looks at names and types, never at every value.
    """
    found = mistakes(frame, row)
    if found:
        raise FrameError(f"{row.__name__}: {'; '.join(found)}.")
    return frame


def _values(column: "pd.Series[Any]") -> list[Any]:
    if not column.hasnans:
        return column.tolist()
    return column.astype(object).where(column.notna(), None).tolist()


def _as_lists(values: list[Any]) -> list[Any]:
    return [one.tolist() if isinstance(one, np.ndarray) else one for one in values]


def plain_rows(frame: pd.DataFrame) -> list[dict[str, object]]:
    """Return all columns as plain Python, missing ones as None: data of a chart or a template.

    >>> plain_rows(pd.DataFrame({"unit": ["north", None], "births": [2, 3]}))
    [{'unit': 'north', 'births': 2}, {'unit': None, 'births': 3}]
    """
    names = [str(name) for name in frame]
    columns = (_values(frame[name]) for name in names)
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def rows_of(frame: pd.DataFrame, row: type[RowT]) -> list[RowT]:
    """Return the declared columns of each row as plain Python values, missing ones as None.

    Raises FrameError where a declared column is not there; others are left out.
    """
    declared: frozenset[str] = row.__required_keys__  # type: ignore[attr-defined]
    absent = sorted(declared - set(frame))
    if absent:
        raise FrameError(f"{row.__name__}: no column {', '.join(absent)}.")
    names = [name for name in columns_of(row) if name in frame]
    columns = (_as_lists(_values(frame[name])) for name in names)
    made: list[Any] = [dict(zip(names, one, strict=True)) for one in zip(*columns, strict=True)]
    return made
