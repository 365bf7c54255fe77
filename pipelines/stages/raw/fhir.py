"""HL7 FHIR R4 bulk NDJSON as text: a row is a resource, its columns those of the contract.

The names of columns are ``table.column``, those that the files of a folder hold; ``record`` is the
key. Which resources are read stands under ``[fhir]`` of the unit's file.
"""

from typing import Any, Final

import duckdb

from pipelines.definitions.read_units import Unit
from pipelines.stages.raw.fhir_folder import Folder, read_folder
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.raw.raw_table import append_rows

# The folder that was read last: its files are opened one after the other.
_LAST: Final[dict[str, tuple[Any, Unit, Folder]]] = {}


def fhir_head(raw: RawFile, rows: int) -> list[tuple[int, list[str]]]:
    """Return the columns that the file says something of, and those it cannot be read without."""
    folder = _folder(raw)
    found = folder.rows.pop(raw.path)
    raw.kept, raw.has_ids, raw.has_own_names = (found, folder.aside[raw.path]), True, True
    raw.notes += folder.notes[raw.path]
    told = {name for _, cells in found for name in cells}
    return [(0, [name for name in _columns(raw) if name in told or name in _needed(raw)])]


def fill_from_fhir(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Load every line that stands; the others are set aside with their number and why."""
    rows, aside = raw.kept
    append_rows(
        connection, raw, ((line, [cells.get(name) for name in raw.header]) for line, cells in rows)
    )
    raw.ragged += aside
    raw.rows_in += len(aside)


def _folder(raw: RawFile) -> Folder:
    """Return what the folder of a file says, read anew where it is another or was used up."""
    where = raw.path.parent
    files = sorted(where.iterdir())
    stamp = [(path.name, path.stat().st_size, path.stat().st_mtime_ns) for path in files]
    known = _LAST.get(str(where))
    if known and known[0] == stamp and known[1] is raw.unit and raw.path in known[2].rows:
        return known[2]
    _LAST.clear()
    _LAST[str(where)] = (stamp, raw.unit, read_folder(raw.unit, where))
    return _LAST[str(where)][2]


def _columns(raw: RawFile) -> tuple[str, ...]:
    return raw.spec.local_columns


def _needed(raw: RawFile) -> set[str]:
    return {
        local
        for take in raw.spec.takes
        for name, source in take.sources.items()
        if raw.unit.contract[take.table].columns[name].required or name == "birth_time"
        for local in source.columns
    }
