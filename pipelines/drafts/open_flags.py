"""The open flags of a unit as a file to answer."""

from pathlib import Path

import duckdb

from pipelines.base.errors import DeclarationError
from pipelines.base.spreadsheets import csv_text
from pipelines.base.sql import quote
from pipelines.base.whole_files import write_whole
from pipelines.definitions.states import OPEN_SEVERITIES
from pipelines.definitions.unit_csv import ANSWERS


def write_open_flags(connection: duckdb.DuckDBPyConnection, unit: str, path: Path) -> int:
    """Write the unit's flags without an answer as a file to fill in; return how many.

    Never over an existing file: it may hold answers. Raises DeclarationError then.
    """
    if path.exists():
        raise DeclarationError(f"{path}: is there already and may hold answers; name another.")
    names = [*ANSWERS.optional, *ANSWERS.for_reading]
    severities = ", ".join(map(quote, OPEN_SEVERITIES))
    rows = connection.execute(
        f"select record_id, column_name, '' as decision, '' as role, '' as why, {', '.join(names)} "
        "from flag where unit = ? and record_id is not null and answer is null "
        f"and severity in ({severities}) order by record_id, source_file, source_line",
        [unit],
    ).fetchall()
    write_whole(path, csv_text([*ANSWERS.needed, *names], rows))
    return len(rows)
