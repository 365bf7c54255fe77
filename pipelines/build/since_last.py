"""What a build does to the store before: what would be lost is asked first, what changed is kept.

A build that replaces a store compares the months that both hold. What an earlier build noticed
stays listed, so that a number that moved twice is seen twice.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Final

import duckdb
import pandas as pd

from pipelines.base.errors import StoreError
from pipelines.base.store_file import PREVIOUS
from pipelines.build.two_stores import compare_attached
from pipelines.definitions.read_units import Unit

_COLUMNS: Final = (
    "unit, measure_id, period_start, noticed_at, shown_at, old_numerator, new_numerator, "
    "old_counted, new_counted, old_rate, new_rate, changed, why"
)

# Units and months of birth of the store before that the exports of this build do not hold.
_LOST_MONTHS: Final = f"""
with here as (
    select distinct
        unit,
        birth_month,
    from typed.admission
),

before as (
    select
        unit,
        birth_month,
        count(*) as newborns,
    from {PREVIOUS}.newborn
    where birth_month is not null
    group by unit, birth_month
)

select
    before.unit,
    before.unit not in (select unit from here) as is_whole,
    list(before.birth_month order by before.birth_month) as months,
    sum(before.newborns)::bigint as newborns,
from before
anti join here using (unit, birth_month)
group by before.unit
order by before.unit
"""


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


_ADVICE: Final = (
    "Give those exports too (--unit and --exports once for each unit, all months in its folder), "
    "choose another --store, or add --drop to let them go."
)


def refuse_to_drop(
    connection: duckdb.DuckDBPyConnection, store: str, advice: str = _ADVICE
) -> None:
    """Stop where the store before holds units or months of birth that these exports do not.

    ``typed.admission`` must be filled; ``advice``: what to do instead. Raises StoreError naming
    what would be lost, in counts.
    """
    if not _is_attached(connection):
        return
    lost = connection.execute(_LOST_MONTHS).fetchall()
    if not lost:
        return
    named = "; ".join(
        f"unit '{unit}' ({newborns:,} newborns)"
        if is_whole
        else f"{_months_words(months)} of unit '{unit}' ({newborns:,} newborns)"
        for unit, is_whole, months, newborns in lost
    )
    raise StoreError(
        f"{store}: holds what these exports do not: {named}. The store is left as it was. {advice}"
    )


def _months_words(months: Sequence[dt.date]) -> str:
    first, last = f"{months[0]:%B %Y}", f"{months[-1]:%B %Y}"
    if len(months) == 1:
        return first
    return f"{len(months)} months from {first} to {last}"


def _is_attached(connection: duckdb.DuckDBPyConnection) -> bool:
    names = connection.execute("select database_name from duckdb_databases()").fetchall()
    return (PREVIOUS,) in names


def _shown_at(connection: duckdb.DuckDBPyConnection, unit: str) -> dt.datetime | None:
    row = connection.execute(
        f"select max(loaded_at) from {PREVIOUS}.load_log where unit = ?", [unit]
    ).fetchone()
    found: dt.datetime | None = row[0] if row else None
    return found
