"""Spreadsheets (xlsx, xls, ods) as text: one sheet with one table.

A date or a number of a sheet is no text. It is written as one here: dates as 2026-03-29
07:05:00, numbers with the decimal mark that the unit's file declares for the column.
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import duckdb

from pipelines.base.errors import ExportError
from pipelines.definitions.unit_readings import Marks
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.raw.raw_table import append_rows

SHEET_FORM: Final = "%Y-%m-%d %H:%M:%S"
_DATE: Final = "%Y-%m-%d"
_HALF_SECOND: Final = dt.timedelta(milliseconds=500)  # a sheet counts days: 07:05 is 0.29513888...
_EXACT: Final = 1e12  # from here on a number is a key, and every digit of it is meant
_MIDNIGHT: Final = dt.time(0, 0)


def sheet_head(raw: RawFile, rows: int) -> list[tuple[int, list[str]]]:
    """Return the first rows of the sheet that are not blank, each with its row number."""
    raw.own_forms = (SHEET_FORM,)
    raw.kept = _grid(raw)
    texts = ((line, [_text(cell) or "" for cell in row]) for line, row in _filled(raw.kept))
    return [found for found, _ in zip(texts, range(rows), strict=False)]


def fill_from_sheet(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Load every row below the names.

    Raises ExportError where the sheet holds a second table, beside or below the first.
    """
    width = len(raw.header)
    _refuse_beside(raw)
    _refuse_below(raw)
    body = [(line, row) for line, row in _filled(raw.kept) if line > raw.header_line]
    with_clock = {
        place
        for _, row in body
        for place, cell in enumerate(row[:width])
        if isinstance(cell, dt.datetime) and cell.time() != _MIDNIGHT
    }
    marks = [raw.marks(name) for name in raw.header]
    append_rows(connection, raw, _texts(body, width, marks, with_clock))


def _texts(
    body: Sequence[tuple[int, Sequence[Any]]],
    width: int,
    marks: Sequence[Marks],
    with_clock: set[int],
) -> Iterator[tuple[int, list[str | None]]]:
    for line, row in body:
        cells = list(row[:width]) + [None] * (width - len(row))
        yield (
            line,
            [_text(cell, marks[place], place in with_clock) for place, cell in enumerate(cells)],
        )


def _text(cell: Any, marks: Marks | None = None, with_clock: bool = False) -> str | None:
    """Return the text of one cell; None where it is empty."""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, int | float):
        text = f"{cell:.12g}" if abs(cell) < _EXACT else str(int(cell))
        return text.replace(".", marks.decimal) if marks else text
    if isinstance(cell, dt.date | dt.time):
        return _moment(cell, with_clock)
    return str(cell).strip() or None if cell is not None else None


def _moment(cell: dt.date | dt.time, with_clock: bool) -> str:
    """Write a date, a time or both; at midnight both only where the column has clock times."""
    if isinstance(cell, dt.time):
        return f"{cell:%H:%M:%S}"
    if not isinstance(cell, dt.datetime):
        return f"{cell:{_DATE}} 00:00:00" if with_clock else f"{cell:{_DATE}}"
    moment = cell + _HALF_SECOND
    is_date = moment.time().replace(microsecond=0) == _MIDNIGHT and not with_clock
    return moment.strftime(_DATE if is_date else SHEET_FORM)


def _filled(grid: Sequence[Sequence[Any]]) -> Iterator[tuple[int, Sequence[Any]]]:
    return ((line, row) for line, row in enumerate(grid, start=1) if any(c != "" for c in row))


def _book(path: Path) -> Any:
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        return CalamineWorkbook.from_path(path)
    except (CalamineError, OSError):
        raise ExportError(
            f"{path.name}: the workbook cannot be opened; it is damaged, has a password or is "
            "none. Save it again without a password, or save the sheet as CSV."
        ) from None


def filled_sheets(path: Path) -> list[str]:
    """Return the names of the sheets of a workbook that hold something."""
    book = _book(path)
    return [name for name in book.sheet_names if _cells(book, name)]


def _grid(raw: RawFile) -> list[list[Any]]:
    """Return the cells of the sheet that is meant, from its first row on."""
    book = _book(raw.path)
    name = raw.spec.sheet
    if name is None:
        grids = {each: _cells(book, each) for each in book.sheet_names}
        filled = [each for each, grid in grids.items() if grid]
        if len(filled) == 1:
            return grids[filled[0]]
        if not filled:
            raise ExportError(f"{raw.name}: every sheet is empty; export it again.")
        listed = ", ".join(f'"{each}"' for each in filled)
        raise ExportError(
            f"{raw.name}: {len(filled)} sheets hold something ({listed}); say which is meant with "
            "sheet = ... in [[files]]. Give each further one a [[files]] of its own."
        )
    if name not in book.sheet_names:
        listed = ", ".join(f'"{each}"' for each in book.sheet_names)
        raise ExportError(f"{raw.name}: there is no sheet '{name}'; it has {listed}.")
    return _cells(book, name)


def _cells(book: Any, name: str) -> list[list[Any]]:
    grid: list[list[Any]] = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
    return grid if any(cell != "" for row in grid for cell in row) else []


def _refuse_beside(raw: RawFile) -> None:
    """A blank column between names, with nothing below, parts two tables."""
    names = raw.header
    body = [row for line, row in _filled(raw.kept) if line > raw.header_line]
    last = max((place for place, name in enumerate(names) if name), default=0)
    for place, name in enumerate(names[:last]):
        if not name and all(len(row) <= place or row[place] == "" for row in body):
            raise ExportError(
                f"{raw.name} row {raw.header_line}: an empty column ({_letters(place)}) stands "
                "between the names. If a second table begins there, put it on a sheet of its own; "
                "if not, delete the empty column."
            )


def _refuse_below(raw: RawFile) -> None:
    """A blank row with more below it: another table, or a total that is no newborn."""
    lines = [line for line, _ in _filled(raw.kept) if line > raw.header_line]
    for before, line in zip([raw.header_line, *lines], lines, strict=False):
        if line > before + 1:
            raise ExportError(
                f"{raw.name} row {line}: something begins below an empty row. If it is a second "
                "table, put it on a sheet of its own; if the rows belong together, delete the "
                "empty one."
            )


def _letters(place: int) -> str:
    """Return how a spreadsheet names a column.

    >>> [_letters(place) for place in (0, 25, 26)]
    ['A', 'Z', 'AA']
    """
    name = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        name = chr(65 + rest) + name
    return name
