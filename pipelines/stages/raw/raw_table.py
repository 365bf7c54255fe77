"""The raw table of one export file: one row per row of the file, every cell its text."""

from collections.abc import Iterable, Sequence
from typing import Final

import duckdb
import pandas as pd

from pipelines.stages.raw.raw_file import RawFile

_CHUNK: Final = 50_000


def append_rows(
    connection: duckdb.DuckDBPyConnection,
    raw: RawFile,
    rows: Iterable[tuple[int, Sequence[str | None]]],
) -> None:
    """Make the raw table of (line, cells); a row of another width is set aside with its line."""
    names = ["source_line", *(f"c{place}" for place in range(len(raw.header)))]
    columns = ", ".join(
        f"{name} {'bigint' if name == 'source_line' else 'varchar'}" for name in names
    )
    connection.execute(f"create or replace table {raw.table} ({columns})")
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


def row_count(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> int:
    row = connection.execute(f"select count(*) from {raw.table}").fetchone()
    return int(row[0]) if row else 0
