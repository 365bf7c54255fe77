"""What a build changed of the numbers that its store showed before, kept in the new store.

A build that replaces a store compares the months that both hold. What an earlier build noticed
stays listed, so that a number that moved twice is seen twice.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Final

import duckdb
import pandas as pd

from pipelines.base.store_file import PREVIOUS
from pipelines.build.two_stores import compare_attached
from pipelines.definitions.read_units import Unit

_COLUMNS: Final = (
    "unit, measure_id, period_start, noticed_at, shown_at, old_numerator, new_numerator, "
    "old_counted, new_counted, old_rate, new_rate, changed, why"
)


def note_restated(
    connection: duckdb.DuckDBPyConnection, units: Sequence[Unit], noticed_at: pd.Timestamp
) -> None:
    """Fill ``measure.restated`` from the store that this build will replace, if there is one.

    ``shown_at``: when the earlier store loaded the unit's exports. Months that had not ended
    then were never a whole month's number and are left out.
    """
    if not _is_attached(connection):
        return
    connection.execute(
        f"insert into measure.restated select {_COLUMNS} from {PREVIOUS}.restated "
        f"where unit in (select unit from measure.unit_info)"
    )
    row = connection.execute("select current_database()").fetchone()
    catalogs = {"old": PREVIOUS, "new": str(row[0]) if row else ""}
    for unit in units:
        shown_at = _shown_at(connection, unit.id)
        if shown_at is None:
            continue
        found = compare_attached(connection, unit.id, catalogs)
        found = found.assign(unit=unit.id, noticed_at=noticed_at, shown_at=pd.Timestamp(shown_at))
        connection.register("restated_frame", found)
        connection.execute(
            f"insert into measure.restated select {_COLUMNS} from restated_frame "
            "where period_start + interval 1 month <= shown_at"
        )
        connection.unregister("restated_frame")


def _is_attached(connection: duckdb.DuckDBPyConnection) -> bool:
    names = connection.execute("select database_name from duckdb_databases()").fetchall()
    return (PREVIOUS,) in names


def _shown_at(connection: duckdb.DuckDBPyConnection, unit: str) -> dt.datetime | None:
    row = connection.execute(
        f"select max(loaded_at) from {PREVIOUS}.load_log where unit = ?", [unit]
    ).fetchone()
    found: dt.datetime | None = row[0] if row else None
    return found
