"""Reading a built store for a page: one named query at a time, through the public views alone."""

from typing import Any

import duckdb
import pandas as pd

from pipelines.base.errors import StoreError, nearest
from pipelines.base.sql import fixed_sql


def query(store: duckdb.DuckDBPyConnection, name: str, **values: Any) -> pd.DataFrame:
    """Run the fixed SQL ``name`` with the parameters it names; dates come as timestamps.

    Raises StoreError where the store has not the names that this version reads.
    """
    sql = fixed_sql(name)
    used = {key: value for key, value in values.items() if f"${key}" in sql}
    try:
        return store.execute(sql, used).df()
    except (duckdb.CatalogException, duckdb.BinderException) as error:
        first = str(error).strip().splitlines()[0]
        raise StoreError(f"this store does not fit ({first}). Build it again.") from None


def unit_title(store: duckdb.DuckDBPyConnection, unit: str) -> str:
    """Return the unit's name. Raises StoreError where the store has no such unit."""
    found = query(store, "reading/unit", unit=unit)
    if found.empty:
        known = [str(row[0]) for row in store.execute("select unit from unit_info").fetchall()]
        raise StoreError(f"unit '{unit}' is not in this store.{nearest(unit, known)}")
    return str(found["title"].iloc[0])
