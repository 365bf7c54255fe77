"""Reading a built store for a page: one named query at a time, through the public views alone."""

from collections.abc import Mapping
from typing import Any

import duckdb
import pandas as pd

from pipelines.base.errors import StoreError, nearest
from pipelines.base.frames import FrameError, checked
from pipelines.base.sql import fixed_sql
from pipelines.reading.frames import UnitRow


def query(
    store: duckdb.DuckDBPyConnection, name: str, row: type[Mapping[str, object]], /, **values: Any
) -> pd.DataFrame:
    """Run the fixed SQL ``name`` with the parameters it names; dates come as timestamps.

    ``row`` declares the columns that it gives. Raises StoreError where the store has not the
    names that this version reads, or gives other columns.
    """
    sql = fixed_sql(name)
    used = {key: value for key, value in values.items() if f"${key}" in sql}
    try:
        return checked(store.execute(sql, used).df(), row)
    except FrameError as error:
        raise StoreError(f"this store does not fit ({name}: {error}). Build it again.") from None
    except (duckdb.CatalogException, duckdb.BinderException) as error:
        first = str(error).strip().splitlines()[0]
        raise StoreError(f"this store does not fit ({first}). Build it again.") from None


def unit_title(store: duckdb.DuckDBPyConnection, unit: str) -> str:
    """Return the unit's name. Raises StoreError where the store has no such unit."""
    found = query(store, "reading/unit", UnitRow, unit=unit)
    if found.empty:
        known = [str(row[0]) for row in store.execute("select unit from unit_info").fetchall()]
        raise StoreError(f"unit '{unit}' is not in this store.{nearest(unit, known)}")
    return str(found["title"].iloc[0])
