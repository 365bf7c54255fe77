"""JSON lines as text: one object a line, its keys the columns; keys within keys joined by a point.

A number keeps the digits that the file has; its point becomes the declared decimal mark.
"""

import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb

from pipelines.base.errors import ExportError
from pipelines.stages.raw.opened import opened
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.raw.raw_table import append_rows


class _Number(str):
    """The digits of a number of JSON, as they stand there."""


def json_head(raw: RawFile, rows: int) -> list[tuple[int, list[str]]]:
    """Return every key of every line, in order of first mention, as the row that names columns."""
    names: dict[str, None] = {}
    for line, found in json_objects(raw.path):
        if isinstance(found, dict):
            names.update(dict.fromkeys(_flat(raw, line, found)))
        elif line == 1 and isinstance(found, list):
            raise ExportError(
                f"{raw.name}: the file is one JSON list; write one object a line instead."
            )
    if not names:
        raise ExportError(f"{raw.name}: no line is a JSON object; export it again.")
    return [(0, list(names))]


def fill_from_json(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Load every line; one that is no object is set aside with its number."""
    marks = [raw.marks(name) for name in raw.header]
    broken: list[tuple[int, str]] = []

    def rows() -> Iterator[tuple[int, list[str | None]]]:
        for line, found in json_objects(raw.path):
            if not isinstance(found, dict):
                broken.append((line, "no JSON object"))
                continue
            flat = _flat(raw, line, found)
            yield (
                line,
                [
                    _marked(flat.get(name), mark.decimal)
                    for name, mark in zip(raw.header, marks, strict=True)
                ],
            )

    append_rows(connection, raw, rows())
    raw.ragged += broken
    raw.rows_in += len(broken)


def json_objects(path: Path) -> Iterator[tuple[int, Any]]:
    """Yield (line, what it says); None where a line is no JSON. Blank lines are passed over."""
    with io.TextIOWrapper(opened(path), encoding="utf-8-sig") as stream:
        try:
            for line, text in enumerate(stream, start=1):
                if text.strip():
                    yield line, _parsed(text)
        except UnicodeDecodeError:
            raise ExportError(f"{path.name}: JSON is UTF-8, and this file is not.") from None


def _parsed(text: str) -> Any:
    try:
        return json.loads(text, parse_float=_Number, parse_int=_Number)
    except ValueError:
        return None


def _flat(raw: RawFile, line: int, found: dict[str, Any], above: str = "") -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for key, value in found.items():
        name = f"{above}{key}"
        if isinstance(value, dict):
            flat |= _flat(raw, line, value, f"{name}.")
        elif isinstance(value, list):
            if name in raw.spec.local_columns:
                raise ExportError(
                    f"{raw.name} line {line}: '{name}' is a list; one value a line is read."
                )
        else:
            flat[name] = value
    return flat


def _marked(value: Any, decimal: str) -> str | None:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, _Number):
        return value.replace(".", decimal)
    return None if value is None else str(value)
