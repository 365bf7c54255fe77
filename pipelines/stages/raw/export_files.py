"""Read export files into ``raw``: verbatim text with its line number, nothing lost.

Two readers give the same rows. The fast one is DuckDB's, for files in which every line is
one row. Where that does not hold (blank lines, line breaks inside quotes, ragged rows,
another encoding) the careful one, Python's ``csv``, goes row by row and says which line
could not be used.
"""

import csv
import glob
import hashlib
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path

import duckdb
import pandas as pd

from pipelines.base.errors import ExportError, nearest
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import ExportFile, Unit
from pipelines.definitions.safe_to_say import names_said, safe_names

DELIMITERS = (",", ";", "\t", "|")
# A full date in an export that promised minutes only: 2026-03-01, 01/03/2026, 1.3.26 ...
FULL_DATE = r"(^|\D)(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](\d{4}|\d{2}))(\D|$)"
_CHUNK = 50_000
_BLOCK = 1 << 20


@dataclass
class RawFile:
    """One export file as loaded: table ``raw.<table>`` with source_line and c0, c1, ..."""

    unit: Unit
    spec: ExportFile
    path: Path
    index: int
    header: list[str]
    content_hash: str = ""
    rows_in: int = 0
    ragged: list[tuple[int, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def table(self) -> str:
        return f"raw.file_{self.index}"

    def column(self, local: str) -> str | None:
        """Return the raw column that holds a local column, or None if the export lacks it."""
        return f"c{self.header.index(local)}" if local in self.header else None


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
        paths = sorted(path for path in folder.glob(spec.pattern) if path.is_file())
        if not paths:
            raise ExportError(
                f"{folder}: no file matches '{spec.pattern}' of unit '{unit.id}'. {holds(folder)}"
            )
        found += [(spec, path) for path in paths]
    return found


def read_export(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Load one file into its raw table and set rows_in, ragged rows, hash and notes.

    Raises ExportError for a file that is empty, undecodable, wrongly delimited, lacks a
    needed column, or holds dates although the unit promised minutes.
    """
    raw.content_hash, lines = _hash_and_lines(raw.path)
    _check_header(raw)
    if not _read_fast(connection, raw, lines):
        _read_carefully(connection, raw)
    if raw.rows_in == 0:
        raw.notes.append("the file has a header and no rows")
    if raw.unit.time_form == "minutes":
        _refuse_dates(connection, raw)


def open_raw(unit: Unit, spec: ExportFile, path: Path, index: int) -> RawFile:
    """Read the header of one export file.

    Raises ExportError where there is none to read.
    """
    if path.stat().st_size == 0:
        raise ExportError(f"{path.name}: the file is empty (0 bytes); export it again.")
    rows = _rows(path, spec)
    header = next((row for _, row in rows if row), None)
    if not header:
        raise ExportError(f"{path.name}: the first line is blank; it must name the columns.")
    return RawFile(unit, spec, path, index, [name.strip() for name in header])


def _hash_and_lines(path: Path) -> tuple[str, int]:
    """Return the SHA-256 of the bytes and the number of physical lines."""
    digest, breaks, last = hashlib.sha256(), 0, b""
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            digest.update(block)
            breaks += block.count(b"\n")
            last = block
    return digest.hexdigest(), breaks + (0 if last.endswith(b"\n") else 1)


def _check_header(raw: RawFile) -> None:
    header, spec = raw.header, raw.spec
    twice = {name for name in header if name and header.count(name) > 1}
    # A line without one name that is known may be a record, of which nothing is said.
    if twice and set(header) & set(spec.local_columns):
        places = [str(place) for place, name in enumerate(header, 1) if name == min(twice)]
        said = f" ('{min(twice)}')" if min(twice) in safe_names(header, spec.local_columns) else ""
        raise ExportError(
            f"{raw.name} line 1: columns {' and '.join(places)} have one name{said}: it stands "
            "twice; rename one."
        )
    missing = [name for name in spec.local_columns if name not in header]
    unused = [name for name in header if name and name not in spec.local_columns]
    if missing and len(header) == 1:
        other = [mark for mark in DELIMITERS if mark != spec.delimiter and mark in header[0]]
        if other:
            raise ExportError(
                f"{raw.name} line 1: the columns look separated by {other[0]!r}, but the file of "
                f"unit '{raw.unit.id}' says {spec.delimiter!r}; set delimiter = {other[0]!r}."
            )
    for take in spec.takes:
        for name in _needed(raw, take.table):
            lost = [local for local in _locals(take.sources.get(name)) if local in missing]
            if lost:
                raise ExportError(
                    f"{raw.name} line 1: column '{lost[0]}' is missing and is needed for "
                    f"{take.table}.{name}.{_nearest(lost[0], raw)}"
                )
    if missing:
        safe = [one for one in safe_names(header, spec.local_columns) if one in unused]
        raw.notes.append(f"columns missing: {_missing_words(missing, safe)}")
    if unused:
        raw.notes.append(f"columns not used: {names_said(unused, header, spec.local_columns)}")


def _nearest(lost: str, raw: RawFile) -> str:
    """Say what the first line has instead, where it has names and not a newborn's values."""
    safe = safe_names(raw.header, raw.spec.local_columns)
    if safe:
        return nearest(lost, safe)
    return (
        f" The first line has {len(raw.header)} cells and no name that is known: it may be a "
        "record. Add a line with the names of the columns, or write them in the unit file."
    )


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


def _read_fast(connection: duckdb.DuckDBPyConnection, raw: RawFile, lines: int) -> bool:
    """Load with DuckDB; return False where a line is not exactly one row of the header's width."""
    if raw.spec.encoding.lower().replace("_", "-") not in {"utf-8", "utf-8-sig"}:
        return False
    columns = {f"c{place}": "VARCHAR" for place in range(len(raw.header))}
    try:
        connection.execute(
            f"""
            create or replace table {raw.table} as
            select row_number() over () + 1 as source_line, *
            from read_csv(
                ?, auto_detect = false, header = true, columns = {columns!r},
                delim = ?, quote = '"', escape = '"', strict_mode = true
            )
            """,
            [glob.escape(str(raw.path)), raw.spec.delimiter],
        )
    except duckdb.Error:
        return False
    raw.rows_in = _count(connection, raw.table)
    return raw.rows_in == lines - 1


def _read_carefully(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    names = ["source_line", *(f"c{place}" for place in range(len(raw.header)))]
    columns = ", ".join(
        f"{name} {'bigint' if name == 'source_line' else 'varchar'}" for name in names
    )
    connection.execute(f"create or replace table {raw.table} ({columns})")
    rows = ((line, row) for line, row in _rows(raw.path, raw.spec) if row)
    next(rows)
    raw.ragged, raw.rows_in = [], 0
    batch: list[list[object]] = []
    for line, row in rows:
        raw.rows_in += 1
        if len(row) != len(raw.header):
            raw.ragged.append((line, f"{len(row)} fields where the header has {len(raw.header)}"))
            continue
        batch.append([line, *(cell if cell != "" else None for cell in row)])
        if len(batch) == _CHUNK:
            _append(connection, raw.table, names, batch)
            batch = []
    _append(connection, raw.table, names, batch)


def _append(
    connection: duckdb.DuckDBPyConnection, table: str, names: list[str], batch: list[list[object]]
) -> None:
    if batch:
        frame = pd.DataFrame(batch, columns=names).astype(
            {name: "str" for name in names if name != "source_line"}
        )
        connection.register("batch_of_rows", frame)
        connection.execute(f"insert into {table} select * from batch_of_rows")
        connection.unregister("batch_of_rows")


def _rows(path: Path, spec: ExportFile) -> Iterator[tuple[int, list[str]]]:
    """Yield (line on which the row begins, cells) with Python's csv.

    Raises ExportError naming the line that cannot be decoded.
    """
    encoding = "utf-8-sig" if spec.encoding.lower() in {"utf-8", "utf8"} else spec.encoding
    try:
        stream = io.TextIOWrapper(path.open("rb"), encoding=encoding, newline="")
    except LookupError:
        raise ExportError(f"{path.name}: encoding '{spec.encoding}' is not known.") from None
    with stream:
        reader = csv.reader(stream, delimiter=spec.delimiter)
        begin = 1
        while True:
            try:
                row = next(reader)
            except StopIteration:
                return
            except UnicodeDecodeError:
                raise ExportError(_undecodable(path, encoding)) from None
            except csv.Error as error:
                raise ExportError(f"{path.name} line {begin}: {error}.") from None
            yield begin, row
            begin = reader.line_num + 1


def _undecodable(path: Path, encoding: str) -> str:
    """Say which line is not text in the declared encoding; the stream reads ahead of the row."""
    for number, line in enumerate(path.read_bytes().split(b"\n"), start=1):
        try:
            line.decode(encoding)
        except UnicodeDecodeError as error:
            return (
                f"{path.name} line {number}: byte 0x{line[error.start]:02x} is not {encoding}. "
                'If this is Western European text, set encoding = "cp1252" for the file.'
            )
    return f"{path.name}: not {encoding} text; set the file's encoding in the unit file."


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


def _count(connection: duckdb.DuckDBPyConnection, table: str) -> int:
    row = connection.execute(f"select count(*) from {table}").fetchone()
    return int(row[0]) if row else 0
