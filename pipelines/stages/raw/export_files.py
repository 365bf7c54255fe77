"""Read export files into ``raw``: verbatim text with its line number, nothing lost.

Which reader takes which file is one table, ``formats.py``; all of them fill the same raw stage.
Here: which files are meant, where their names stand, and what is refused.
"""

import gzip
import zlib
from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Final

import duckdb

from pipelines.base.errors import ExportError, nearest
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import Unit
from pipelines.definitions.safe_to_say import names_said, safe_names
from pipelines.definitions.unit_takes import ExportFile
from pipelines.definitions.unit_times import checked_forms
from pipelines.stages.raw.absent import note_absent
from pipelines.stages.raw.formats import format_of
from pipelines.stages.raw.opened import cut_off, file_hash
from pipelines.stages.raw.raw_file import RawFile, by_place, plain_name

DELIMITERS = (",", ";", "\t", "|")
# A full date in an export that promised minutes only: 2026-03-01, 01/03/2026, 1.3.26 ...
FULL_DATE = r"(^|\D)(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](\d{4}|\d{2}))(\D|$)"
_LOOKED_AT: Final = 20  # rows in which the names are looked for, so that their line can be named


def files_of(folder: Path) -> list[Path]:
    """Return the files of a folder of exports by name. Raises ExportError where it is missing."""
    if not folder.is_dir():
        raise ExportError(f"{folder}: there is no such folder of exports.")
    return sorted(path for path in folder.iterdir() if path.is_file())


def holds(folder: Path) -> str:
    """Say what a folder holds, for a message: ten names at most."""
    names = sorted(path.name for path in folder.iterdir())[:10]
    return f"The folder holds: {', '.join(names) or 'nothing'}."


def matching_files(unit: Unit, folder: Path) -> list[tuple[ExportFile, Path]]:
    """Return the unit's export files in ``folder`` by pattern, then by name.

    Raises ExportError where the folder or every file of a pattern is missing.
    """
    files_of(folder)
    found = []
    for spec in unit.files:
        paths = sorted(path for path in folder.glob(spec.pattern) if _is_export(path))
        if not paths:
            raise ExportError(
                f"{folder}: no file matches '{spec.pattern}' of unit '{unit.id}'. {holds(folder)}"
            )
        found += [(spec, path) for path in paths]
    return found


def _is_export(path: Path) -> bool:
    """Whether a file is one; "~$" is the lock of an open workbook, "." a hidden file."""
    return path.is_file() and not path.name.startswith(("~$", "."))


def read_export(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Load one file into its raw table and set rows_in, ragged rows, hash and notes.

    Raises ExportError for a file that cannot be read as declared, or that holds dates although
    the unit promised minutes.
    """
    raw.content_hash = file_hash(raw.path)
    format_of(raw).fill(connection, raw)
    raw.kept = None
    note_absent(connection, raw)
    if raw.rows_in == 0:
        raw.notes.append("the file has a header and no rows")
    if raw.unit.time_form == "minutes":
        _refuse_dates(connection, raw)


def open_raw(unit: Unit, spec: ExportFile, path: Path, index: int) -> RawFile:
    """Find the names of the columns of one export file.

    Raises ExportError where there are none, or where a needed one is missing.
    """
    if path.stat().st_size == 0:
        raise ExportError(f"{path.name}: the file is empty (0 bytes); export it again.")
    raw = RawFile(unit, spec, path, index, [])
    form = format_of(raw)
    try:
        head = form.head(raw, max(_LOOKED_AT, spec.header_line or 0))
    except (EOFError, zlib.error, gzip.BadGzipFile):
        raise ExportError(cut_off(path)) from None
    if not head and not spec.header_line:
        raise ExportError(f"{path.name}: no line says anything; the first must name the columns.")
    if not form.has_name_row and (spec.columns or spec.header_line):
        raise ExportError(
            f"{path.name}: a {form.name} file has its names; take header_line and columns out of "
            f"{unit.file_name}."
        )
    names, raw.header_line = _names(raw, head)
    _check_forms(raw)
    raw.header = by_place([plain_name(name) for name in names])
    _check_header(raw, head)
    return raw


def _check_forms(raw: RawFile) -> None:
    """Raises DeclarationError where a declared form reads a reader's own times otherwise."""
    for take in raw.spec.takes:
        for name, source in take.sources.items():
            if source.formats and raw.own_forms:
                where = f"{raw.unit.file_name} {raw.name} {take.table}.{name}"
                checked_forms(where, (*source.formats, *raw.own_forms))


def _names(raw: RawFile, head: Sequence[tuple[int, list[str]]]) -> tuple[Sequence[str], int]:
    """Return the names and the line they stand on: declared, on a declared line, or the first."""
    spec = raw.spec
    if spec.columns:
        width = next((len(row) for line, row in head if line > (spec.header_line or 0)), None)
        if width is not None and width != len(spec.columns):
            raise ExportError(
                f"{raw.name}: 'columns' names {len(spec.columns)} columns and the file has "
                f"{width}; name every one, in order."
            )
        return spec.columns, spec.header_line or 0
    if spec.header_line is None:
        return head[0][1], head[0][0]
    for line, row in head:
        if line == spec.header_line:
            return row, line
    raise ExportError(
        f"{raw.name} line {spec.header_line}: the line is blank or not there; set header_line to "
        "the line of the names."
    )


def _check_header(raw: RawFile, head: Sequence[tuple[int, list[str]]]) -> None:
    header, spec = raw.header, raw.spec
    missing = [name for name in spec.local_columns if name not in header]
    unused = [name for name in header if name and name not in spec.local_columns]
    for name in missing:
        if f"{name}#1" in header:
            times = sum(one.startswith(f"{name}#") for one in header)
            raise ExportError(
                f"{_place(raw)}: column '{name}' stands {times} times; say by its place which is "
                f"meant: '{name}#1' to '{name}#{times}'."
            )
    for take in spec.takes:
        for name in _needed(raw, take.table):
            lost = [local for local in _locals(take.sources.get(name)) if local in missing]
            if lost:
                raise ExportError(_lost(raw, head, lost[0], f"{take.table}.{name}"))
    if missing and not raw.has_own_names:
        safe = [one for one in safe_names(header, spec.local_columns) if one in unused]
        raw.notes.append(f"columns missing: {_missing_words(missing, safe)}")
    if unused:
        raw.notes.append(f"columns not used: {names_said(unused, header, spec.local_columns)}")


def _place(raw: RawFile) -> str:
    return f"{raw.name} line {raw.header_line}" if raw.header_line else raw.name


def _lost(raw: RawFile, head: Sequence[tuple[int, list[str]]], local: str, canonical: str) -> str:
    """Say what is probably wrong where a needed column is not among the names.

    A first line in which no declared name stands may be a newborn's: nothing of it is repeated.
    """
    spec, header = raw.spec, raw.header
    known = {plain_name(name) for name in spec.local_columns}
    said = f"column '{local}' is missing and is needed for {canonical}"
    for line, row in head:
        here = known & {plain_name(name) for name in row}
        if line != raw.header_line and len(here) >= max(2, len(known & set(header)) + 1):
            found = f"The names stand on line {line}: set header_line = {line}."
            return f"{_place(raw)}: {said}. {found}"
    if len(header) == 1:
        for mark in DELIMITERS:
            if mark != spec.delimiter and mark in header[0]:
                return (
                    f"{_place(raw)}: the columns look separated by {mark!r}, but the file of "
                    f"unit '{raw.unit.id}' says {spec.delimiter!r}; set delimiter = {mark!r}."
                )
    if not known & set(header):
        return (
            f"{_place(raw)}: {said}, and no column that {raw.unit.file_name} names stands there: "
            "the line may be a record. "
            "If the names stand further down, set header_line; if they stand nowhere, name the "
            "columns in order: columns = [...]."
        )
    return f"{_place(raw)}: {said}.{nearest(local, safe_names(header, spec.local_columns))}"


def _missing_words(missing: list[str], unused: list[str]) -> str:
    """Name each missing column, with the unused one that was probably meant."""
    close = {name: get_close_matches(name, unused, n=1, cutoff=0.7) for name in missing}
    return ", ".join(
        f"{name} (did you mean '{found[0]}'?)" if found else name for name, found in close.items()
    )


def _locals(source: object) -> tuple[str, ...]:
    return getattr(source, "columns", ())


def _needed(raw: RawFile, table: str) -> list[str]:
    """Return the canonical columns without which a take cannot be read at all."""
    needed = [column.name for column in read_contract()[table].columns.values() if column.required]
    if table == "admission":
        needed.append("birth_time" if raw.unit.time_form == "clock" else "birth_month")
    return needed


def _refuse_dates(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """An export that promised minutes only must not bring dates in through any column."""
    for place, name in enumerate(raw.header):
        found = connection.execute(
            f"select min(source_line) from {raw.table} where regexp_matches(c{place}, ?)",
            [FULL_DATE],
        ).fetchone()
        if found and found[0] is not None:
            raise ExportError(
                f"{raw.name} line {found[0]}: column '{name}' holds a full date, but unit "
                f"'{raw.unit.id}' says that its times are minutes. Nothing was loaded; export "
                'again without dates, or say form = "clock".'
            )
