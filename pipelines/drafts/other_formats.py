"""The first rows of exports that are no text, read by the same readers that a build uses."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import duckdb

from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_takes import ExportFile
from pipelines.stages.raw.formats import FORMATS, Format, format_of
from pipelines.stages.raw.opened import inner_name
from pipelines.stages.raw.raw_file import RawFile, by_place, plain_name
from pipelines.stages.raw.sheets import filled_sheets

# Every ending that a reader knows, packed or not.
ENDINGS: Final = tuple(ending for one in FORMATS for ending in one.endings)
# A unit of which nothing is known yet: the readers ask it for marks of numbers alone.
_NOBODY: Final = Unit("draft", "draft", "clock", None, (), False, (), {}, (), ())


@dataclass(frozen=True)
class Table:
    """The names and first rows of one table. ``sheet``: where a workbook holds several."""

    sheet: str | None
    header: list[str]
    rows: list[list[str]]


def reader_of(path: Path) -> Format:
    """Return the format of a file, by the ending of its name."""
    return format_of(_raw(path, None))


def is_export(path: Path) -> bool:
    """Whether a file has an ending that a reader knows; "~$" is the lock of an open workbook."""
    if path.name.startswith(("~$", ".")):
        return False
    return path.suffix.lower() == ".zip" or inner_name(path).lower().endswith(ENDINGS)


def read_tables(path: Path, most: int) -> Iterator[Table]:
    """Yield every table of a file that is no text. Raises ExportError where it cannot be read."""
    sheets: list[str | None] = [None]
    if reader_of(path).name == "sheet" and len(named := filled_sheets(path)) > 1:
        sheets = [*named]
    for sheet in sheets:
        yield _table(_raw(path, sheet), sheet, most)


def _raw(path: Path, sheet: str | None) -> RawFile:
    return RawFile(_NOBODY, ExportFile(path.name, ",", "utf-8", (), sheet=sheet), path, 0, [])


def _table(raw: RawFile, sheet: str | None, most: int) -> Table:
    form = format_of(raw)
    ((raw.header_line, names), *_) = form.head(raw, 1)
    raw.header = by_place([plain_name(name) for name in names])
    with duckdb.connect() as connection:
        connection.execute("create schema raw")
        form.fill(connection, raw)
        cells = ", ".join(f"coalesce(trim(c{place}), '')" for place in range(len(raw.header)))
        rows = connection.execute(f"select {cells} from {raw.table} limit {most}").fetchall()
    return Table(sheet, raw.header, [[str(cell) for cell in row] for row in rows])
