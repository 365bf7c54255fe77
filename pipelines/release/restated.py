"""What was released and would be counted differently today."""

from pathlib import Path

import pandas as pd

from pipelines.base.errors import StoreError
from pipelines.base.store_file import open_store
from pipelines.definitions.states import COUNTS
from pipelines.reading.queries import query
from pipelines.release.frames import CountedRow
from pipelines.release.ledger import compared, read_ledger
from pipelines.release.rows import every_period, month_start
from pipelines.words.of_restated import CAUSES


def restated_since_release(store: Path, ledger: Path, unit: str) -> pd.DataFrame:
    """List the published counts of a unit that the store now counts differently.

    Returns release (its number and date), measure_id, stratifier, stratum, period_kind,
    first_month, last_month (dates), column, old, new (missing where the months are gone) and
    why. Only counts were published, so why says that the causes cannot be told apart.
    """
    entries = read_ledger(ledger, unit)
    with open_store(store) as connection:
        counts = query(connection, "release/counts", CountedRow, unit=unit)
    if counts.empty:
        raise StoreError(f"{store}: has no results of unit '{unit}'.")
    before = compared(entries, every_period(counts), COUNTS)
    moved = before[before["now"].isna() | (before["now"] != before["count"])].copy()
    for name in ("first_month", "last_month"):
        moved[name] = [month_start(int(one)).date() for one in moved[name]]
    moved["why"] = CAUSES["not_told"]
    moved.loc[moved["now"].isna(), "why"] = "no longer counted by this period"
    moved = moved.rename(columns={"count": "old", "now": "new"})
    return moved.reset_index(drop=True)
