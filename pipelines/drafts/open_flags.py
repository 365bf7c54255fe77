"""The open flags of a unit as a file to answer."""

import csv
from pathlib import Path

import duckdb

from pipelines.base.errors import DeclarationError
from pipelines.base.spreadsheets import safe_cell
from pipelines.stages.judged.answers import _NEEDED, _OPTIONAL

# Written for the reader's sake in the list of open flags, not read back.
_FOR_READING = ("explanation", "suggestion", "rule_id", "severity", "source_file")


def write_open_flags(connection: duckdb.DuckDBPyConnection, unit: str, path: Path) -> int:
    """Write the unit's flags without an answer as a file to fill in; return how many.

    Never over an existing file: it may hold answers. Raises DeclarationError then.
    """
    if path.exists():
        raise DeclarationError(f"{path}: is there already and may hold answers; name another.")
    names = [*_OPTIONAL, *_FOR_READING]
    rows = connection.execute(
        f"select record_id, column_name, '' as decision, '' as role, '' as why, {', '.join(names)} "
        "from flag where unit = ? and record_id is not null and answer is null "
        "and severity in ('error', 'query') order by record_id, source_file, source_line",
        [unit],
    ).fetchall()
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow([*_NEEDED, *names])
        writer.writerows([[safe_cell(cell) for cell in row] for row in rows])
    return len(rows)
