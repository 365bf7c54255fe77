"""Parquet as text, read by DuckDB: numbers with the declared mark, times as 2026-03-29 07:05:00.

A time with its zone is written with its offset. A row's "line" is its number in the file.
"""

import glob
from typing import Final

import duckdb

from pipelines.base.errors import ExportError
from pipelines.base.sql import quote
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.raw.raw_table import row_count
from pipelines.stages.raw.sheets import SHEET_FORM

_PLAIN: Final = ("VARCHAR", "BOOLEAN", "DATE", "TIME", "ENUM", "UUID")
_NUMBERS: Final = ("DOUBLE", "FLOAT", "DECIMAL")


def parquet_head(raw: RawFile, rows: int) -> list[tuple[int, list[str]]]:
    """Return the names of the columns as the one row that names them."""
    raw.own_forms = (SHEET_FORM, f"{SHEET_FORM}%z")
    try:
        with duckdb.connect() as connection:
            found = connection.execute(
                "describe select * from read_parquet(?)", [glob.escape(str(raw.path))]
            ).fetchall()
    except duckdb.Error:
        raise ExportError(
            f"{raw.name}: this is no Parquet file, or it is damaged; export it again."
        ) from None
    raw.kept = [(str(name), str(kind)) for name, kind, *_ in found]
    return [(0, [name for name, _ in raw.kept])]


def fill_from_parquet(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Load every row. Raises ExportError for a column that holds more than one value a row."""
    cells = [
        f"{_text(raw, name, kind, place)} as c{place}"
        for place, (name, kind) in enumerate(raw.kept)
    ]
    connection.execute(
        f"create or replace table {raw.table} as "
        f"select row_number() over () as source_line, {', '.join(cells)} from read_parquet(?)",
        [glob.escape(str(raw.path))],
    )
    raw.rows_in = row_count(connection, raw)


def _text(raw: RawFile, name: str, kind: str, place: int) -> str:
    column = '"' + name.replace('"', '""') + '"'
    if kind.endswith("[]") or kind.startswith(("STRUCT", "MAP", "UNION", "BLOB")):
        if raw.header[place] not in raw.spec.local_columns:
            return "cast(null as varchar)"
        raise ExportError(
            f"{raw.name}: column '{name}' holds lists or records, not one value a row; export a "
            "column of its own for each."
        )
    form = quote(SHEET_FORM)
    if kind == "TIMESTAMP WITH TIME ZONE":
        return f"strftime(timezone('UTC', {column}), {form}) || '+00:00'"
    if kind.startswith("TIMESTAMP"):
        return f"strftime({column}, {form})"
    if kind.startswith(_NUMBERS):
        shown = f"regexp_replace(cast({column} as varchar), '\\.0+$', '')"
        marked = f"replace({shown}, '.', {quote(raw.marks(raw.header[place]).decimal)})"
        # What a frame writes where it has no number.
        return f"if(lower({shown}) in ('nan', 'inf', '-inf'), null, {marked})"
    return f"nullif(trim(cast({column} as varchar)), '')"
