"""Cells and tables that a spreadsheet shows as text and never runs."""

import csv
import io
from collections.abc import Sequence

import pandas as pd

FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(value: object) -> str:
    """Return a cell that a spreadsheet shows as text, never runs as a formula."""
    text = "" if value is None or pd.isna(value) else str(value)  # type: ignore[call-overload]
    return f"'{text}" if text.startswith(FORMULA_MARKS) else text


def plain_cell(cell: str | None) -> str:
    """Return what a person meant by a cell: ``safe_cell`` undone, blanks about it gone."""
    text = (cell or "").strip()
    return text[1:] if text[:1] == "'" and text[1:2] in FORMULA_MARKS else text


def csv_text(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """Return a table as CSV whose cells a spreadsheet never runs as formulas."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(head)
    writer.writerows([[safe_cell(cell) for cell in row] for row in rows])
    return stream.getvalue()
