"""CSV, TSV and the like. Two readers give the same rows.

The fast one is DuckDB's, for files in which every line is one row. Where that does not hold
(blank lines, line breaks inside quotes, ragged rows, another encoding, a zip archive) the
careful one, Python's ``csv``, goes row by row and says which line could not be used.
"""

import csv
import glob
import io
from collections.abc import Iterator
from itertools import islice
from typing import Final

import duckdb

from pipelines.base.errors import ExportError
from pipelines.stages.raw.opened import line_count, opened
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.raw.raw_table import append_rows, row_count

# What a file that is no text begins with, and what it then is.
_NO_TEXT: Final = {
    b"PK\x03\x04": "a workbook or an archive; let its name end in .xlsx or .zip",
    b"\xd0\xcf\x11\xe0": "an old workbook; let its name end in .xls",
    b"PAR1": "a Parquet file; let its name end in .parquet",
    b"\x1f\x8b": "packed with gzip; let its name end in .gz",
}
_WIDE: Final = (b"\xff\xfe", b"\xfe\xff")


def text_head(raw: RawFile, rows: int) -> list[tuple[int, list[str]]]:
    """Return the first rows that are not blank, each with its line."""
    _refuse_other_bytes(raw)
    return list(islice(((line, row) for line, row in _rows(raw) if any(row)), rows))


def fill_from_text(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Load every row after the names as text.

    Raises ExportError where a line cannot be decoded, or is no row for another reason.
    """
    if not _read_fast(connection, raw, line_count(raw.path)):
        _read_carefully(connection, raw)


def _refuse_other_bytes(raw: RawFile) -> None:
    with opened(raw.path) as stream:
        begin = stream.read(4)
    for mark, words in _NO_TEXT.items():
        if begin.startswith(mark):
            raise ExportError(f"{raw.name}: this is {words}, and name it so in 'pattern'.")
    if begin.startswith(_WIDE) and not raw.spec.encoding.lower().replace("_", "-").startswith(
        "utf-16"
    ):
        raise ExportError(f'{raw.name}: the text is UTF-16; set encoding = "utf-16" for the file.')


def _read_fast(connection: duckdb.DuckDBPyConnection, raw: RawFile, lines: int) -> bool:
    """Load with DuckDB; return False where a line is not exactly one row of the header's width."""
    if raw.spec.encoding.lower().replace("_", "-") not in {"utf-8", "utf-8-sig"}:
        return False
    if raw.path.suffix.lower() == ".zip":
        return False
    columns = {f"c{place}": "VARCHAR" for place in range(len(raw.header))}
    before = max(raw.header_line - 1, 0)
    try:
        connection.execute(
            f"""
            create or replace table {raw.table} as
            select row_number() over () + {raw.header_line} as source_line, *
            from read_csv(
                ?, auto_detect = false, header = {raw.header_line > 0}, columns = {columns!r},
                delim = ?, quote = ?, escape = ?, strict_mode = true, skip = {before},
                compression = '{"gzip" if raw.path.suffix.lower() == ".gz" else "none"}'
            )
            """,
            [glob.escape(str(raw.path)), raw.spec.delimiter, raw.spec.quote, raw.spec.quote],
        )
    except duckdb.Error:
        return False
    raw.rows_in = row_count(connection, raw)
    return raw.rows_in == lines - raw.header_line


def _read_carefully(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    rows = ((line, row) for line, row in _rows(raw) if row and line > raw.header_line)
    append_rows(connection, raw, rows)


def _rows(raw: RawFile) -> Iterator[tuple[int, list[str]]]:
    """Yield (line on which the row begins, cells) with Python's csv.

    Raises ExportError naming the line that cannot be decoded.
    """
    name, spec = raw.name, raw.spec
    encoding = "utf-8-sig" if spec.encoding.lower() in {"utf-8", "utf8"} else spec.encoding
    try:
        stream = io.TextIOWrapper(opened(raw.path), encoding=encoding, newline="")
    except LookupError:
        raise ExportError(f"{name}: encoding '{spec.encoding}' is not known.") from None
    with stream:
        # A quote in a title must not swallow the lines below it.
        above = (spec.header_line or 1) - 1
        try:
            for _ in range(above):
                stream.readline()
        except UnicodeDecodeError:
            raise ExportError(_undecodable(raw, encoding)) from None
        begin = above + 1
        reader = csv.reader(
            stream,
            delimiter=spec.delimiter,
            quotechar=spec.quote or None,
            quoting=csv.QUOTE_MINIMAL if spec.quote else csv.QUOTE_NONE,
        )
        while True:
            try:
                row = next(reader)
            except StopIteration:
                return
            except UnicodeDecodeError:
                raise ExportError(_undecodable(raw, encoding)) from None
            except csv.Error as error:
                raise ExportError(f"{name} line {begin}: {error}.") from None
            yield begin, row
            begin = above + reader.line_num + 1


def _undecodable(raw: RawFile, encoding: str) -> str:
    """Say which line is not text in the declared encoding; the stream reads ahead of the row."""
    with opened(raw.path) as stream:
        for number, line in enumerate(stream.read().split(b"\n"), start=1):
            try:
                line.decode(encoding)
            except UnicodeDecodeError as error:
                return (
                    f"{raw.name} line {number}: byte 0x{line[error.start]:02x} is not {encoding}. "
                    'If this is Western European text, set encoding = "cp1252" for the file.'
                )
    return f"{raw.name}: not {encoding} text; set the file's encoding in the unit file."
