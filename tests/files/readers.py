"""Every cell of a written file, read by a library that did not write it."""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pyarrow.parquet as pq
from python_calamine import CalamineWorkbook

Rows = list[dict[str, Any]]


def csv_rows(path: Path) -> Rows:
    with path.open(newline="", encoding="utf-8-sig") as stream:
        return list(csv.DictReader(stream))


def sheets(path: Path) -> dict[str, Rows]:
    """Return sheet -> rows, read by calamine (openpyxl wrote them)."""
    book = CalamineWorkbook.from_path(str(path))
    found = {}
    for name in book.sheet_names:
        head, *lines = book.get_sheet_by_name(name).to_python()
        found[name] = [dict(zip(map(str, head), line, strict=True)) for line in lines]
    return found


def parquet_rows(path: Path) -> Rows:
    """Return the rows, read by pyarrow (DuckDB wrote them)."""
    rows: Rows = pq.read_table(path).to_pylist()
    return rows


def texts(path: Path) -> Iterator[str]:
    """Give every text in a file of tables, data or charts."""
    if path.suffix == ".csv":
        rows = csv_rows(path)
    elif path.suffix == ".xlsx":
        rows = [row for sheet in sheets(path).values() for row in sheet]
    elif path.suffix == ".parquet":
        rows = parquet_rows(path)
    elif path.suffix == ".svg":
        yield " ".join(ElementTree.fromstring(path.read_bytes()).itertext())
        return
    else:
        yield path.read_text(encoding="utf-8", errors="replace")
        return
    for row in rows:
        for value in row.values():
            yield from map(str, value if isinstance(value, list) else [value])
