"""Newborns for hand cases: from the pipe tables of a header, or from a small export."""

import csv
import datetime as dt
import tomllib
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from .reader import (
    PIPELINES,
    Newborn,
    Row,
    UnitExport,
    count_ages,
    read_contract,
    read_export,
    tell_what_is_charted,
)


def pipe_rows(text: str) -> list[dict[str, str]]:
    """Read a pipe table; blank cells are left out of their row."""
    head, *lines = [line for line in text.strip().splitlines() if line.strip()]
    names = [name.strip() for name in head.split("|")]
    rows = []
    for line in lines:
        cells = [cell.strip() for cell in line.split("|")]
        rows.append({name: cell for name, cell in zip(names, cells, strict=True) if cell})
    return rows


def _typed(about: Mapping[str, Any], text: str) -> Any:
    if about["type"] in {"integer", "decimal", "minutes"}:
        return Fraction(text)
    return text == "true" if about["type"] == "boolean" else text


def example_newborns(given: Mapping[str, str]) -> list[Newborn]:
    """Return the newborns of one worked example, canonical tables in."""
    contract = read_contract()
    newborns: dict[str, Newborn] = {}
    for table in sorted(given, key=lambda name: name != "admission"):
        for line, cells in enumerate(pipe_rows(given[table]), start=1):
            row = Row(table, "example", cells.pop("record_id"), "example", line, 1)
            masked = cells.pop("unusable", "").replace(",", " ").split()
            # Not a column of the contract: the stage typed gives it, and it chooses the policy.
            month = cells.get("birth_month", "2026-01-01")
            born_on = dt.date.fromisoformat(cells.pop("birth_date", month))
            columns = contract[table]["columns"]
            row.cells = {name: _typed(columns[name], text) for name, text in cells.items()}
            for column in masked:
                row.mask(column)
            if table == "admission":
                newborns[row.record_id] = Newborn(row, born_on)
            else:
                newborns[row.record_id].events.append(row)
    tell_what_is_charted(list(newborns.values()))
    count_ages(newborns.values())
    return list(newborns.values())


def unit_toml(unit: str) -> Path:
    """Return the path of a shipped unit's file."""
    return PIPELINES / "definitions" / "units" / f"{unit}.toml"


def local_columns(file: Mapping[str, Any]) -> list[str]:
    """Return the local column names one file of a unit has, in order of first mention."""
    names: dict[str, None] = {}
    for take in file["takes"]:
        for spec in take["columns"].values():
            origin = spec if isinstance(spec, str) else spec.get("from", ())
            names.update(dict.fromkeys([origin] if isinstance(origin, str) else origin))
    return list(names)


def small_export(unit: str | Path, folder: Path, **files: list[dict[str, str]]) -> UnitExport:
    """Write an export of a shipped unit, or of a unit file, and read it with the oracle's reader.

    Each keyword is the beginning of a file's pattern, its rows by local column name.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = unit if isinstance(unit, Path) else unit_toml(unit)
    spec = tomllib.loads(path.read_text(encoding="utf-8"))
    for file in spec["files"]:
        name = file["pattern"].split("*", 1)[0]
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as handle:
            writer = csv.DictWriter(
                handle, local_columns(file), delimiter=file.get("delimiter", ",")
            )
            writer.writeheader()
            writer.writerows(files.get(name, []))
    return read_export(path, folder)
