"""The tables of a review as one workbook (Office Open XML): a sheet each, and one about them."""

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pipelines.base.spreadsheets import safe_cell
from pipelines.files.about import About
from pipelines.files.tables import Cell, TableFile

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

WIDEST: Final = 60
NARROWEST: Final = 9
# Columns that hold a share of 1, shown as a percentage; the cell keeps the number.
_SHARES: Final = ("rate", "share", "lower", "upper", "target", "difference", "if_none", "if_all")
_NO_SHARES: Final = ("ratio_lower", "ratio_upper", "target_state", "target_words")


def _format(name: str, value: Cell) -> str:
    if isinstance(value, dt.datetime):
        return "yyyy-mm-dd hh:mm"
    if isinstance(value, dt.date):
        return "yyyy-mm-dd"
    if isinstance(value, float) or (isinstance(value, int) and _is_share(name)):
        return "0.0%" if _is_share(name) else "0.##"
    return "General"


def _is_share(name: str) -> bool:
    return name not in _NO_SHARES and any(part in name for part in _SHARES)


def _width(values: Sequence[object]) -> float:
    longest = max((len(str(value)) for value in values if value is not None), default=0)
    return min(max(longest + 2, NARROWEST), WIDEST)


def _fill(sheet: "Worksheet", head: Sequence[str], rows: Sequence[Sequence[Cell]]) -> None:
    """Write a header that stays in sight and the rows beneath it."""
    from openpyxl.styles import Alignment, Font

    top = Alignment(vertical="top", wrap_text=True)
    sheet.append(list(head))
    for row in rows:
        sheet.append([safe_cell(value) if isinstance(value, str) else value for value in row])
    for title in sheet[1]:
        title.font, title.alignment = Font(bold=True), top
    for line in sheet.iter_rows(min_row=2):
        for name, written in zip(head, line, strict=True):
            written.alignment = top
            written.number_format = _format(name, written.value)
            if isinstance(written.value, str):
                written.data_type = "s"  # a text, whatever it looks like
    for place, name in enumerate(head):
        letter = sheet.cell(1, place + 1).column_letter
        sheet.column_dimensions[letter].width = _width([name, *(row[place] for row in rows)])
    sheet.freeze_panes = "A2"


def _for_paper(sheet: "Worksheet") -> None:
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0  # as many sheets of paper as it takes, one wide
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"


def _workbook(tables: Sequence[TableFile], about: About) -> "Workbook":
    from openpyxl import Workbook

    book = Workbook()
    book.properties.title = f"{about.unit}, {about.when}"
    book.properties.creator = about.software
    book.properties.created = about.made_at.replace(tzinfo=None)
    front = book.active
    front.title = "about"
    sheets = [(f"sheet {table.name}", f"{table.title}: {table.grain}") for table in tables]
    _fill(front, ["what", "words"], [*about.facts(), *sheets])
    for table in tables:
        sheet = book.create_sheet(table.name[:31])
        _fill(sheet, list(table.columns), table.rows)
        if table.rows:
            sheet.auto_filter.ref = sheet.dimensions
    columns: list[list[Any]] = [
        [table.name, name, words] for table in tables for name, words in table.columns.items()
    ]
    _fill(book.create_sheet("columns"), ["sheet", "column", "meaning"], columns)
    for sheet in book.worksheets:
        _for_paper(sheet)
    return book


def write_workbook(tables: Sequence[TableFile], path: Path, about: About) -> Path:
    """Write the workbook: first 'about', then one sheet for each table, last 'columns'."""
    _workbook(tables, about).save(path)
    return path
