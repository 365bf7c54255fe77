"""``datapackage.json`` beside the released tables (Data Package 2.0, datapackage.org).

What stands in a column of numbers in place of one (a mask, or why there is none) is declared as a
missing value, so that a reader gets numbers and gaps.
"""

import csv
import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final, get_args

from pipelines.base.data_package import package, resource
from pipelines.base.frames import columns_of, units_of
from pipelines.release.made import Release
from pipelines.release.prepare import DECLARED
from pipelines.words.caution import CLOSING

_TYPES: Final[Mapping[Any, str]] = {
    bool: "boolean", int: "integer", float: "number", dt.date: "date",
}  # fmt: skip
_GRAIN: Final = {
    "results": "one row per measure and period, of all newborns",
    "strata": "one row per measure, period, stratifier and stratum",
    "measures": "one row per measure",
}


def descriptor(release: Release, released_at: str, folder: Path) -> dict[str, Any]:
    """Return the content of ``datapackage.json`` for the tables in ``folder``.

    ``released_at``: "2026-04-03 10:15 UTC".
    """
    moment = dt.datetime.strptime(released_at, "%Y-%m-%d %H:%M UTC")
    title = f"Released results of {release.unit}"
    description = f"Small numbers are masked. {CLOSING}"
    return {
        **package(f"release_{release.unit}", title, description, moment),
        "resources": [
            _resource(name, folder / f"{name}.csv")
            for name in release.texts
            if (folder / f"{name}.csv").is_file()
        ],
    }


def _resource(name: str, path: Path) -> dict[str, Any]:
    with path.open(encoding="utf-8", newline="") as stream:
        head, *rows = list(csv.reader(stream))
    fields = [_field(name, column) for column in head]
    words = _words(zip(fields, zip(*rows, strict=True), strict=True)) if rows else []
    schema = {"fields": fields, "missingValues": ["", *words]}
    return resource(name, path, "text/csv", _GRAIN[name], schema, encoding="utf-8")


def _field(name: str, column: str) -> dict[str, str]:
    kind = columns_of(DECLARED[name])[column]
    plain = [one for one in get_args(kind) or (kind,) if one in _TYPES]
    told = _TYPES[plain[0]] if plain else "string"
    return {"name": column, "type": told, "description": units_of(DECLARED[name])[column]}


def _words(columns: Iterable[tuple[dict[str, str], tuple[str, ...]]]) -> list[str]:
    """Return the words that stand in place of a number, each once."""
    found: dict[str, None] = {}
    for field, cells in columns:
        if field["type"] in {"integer", "number"}:
            found.update(dict.fromkeys(cell for cell in cells if not _is_number(cell)))
    return [word for word in found if word]


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return cell.casefold() not in {"nan", "inf", "-inf"}
