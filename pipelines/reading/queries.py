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
    store: duckdb.DuckDBPyConnection, name: str, row: type[Mapping[str, object]], **values: Any
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


def complete_view(store: duckdb.DuckDBPyConnection, name: str, columns: Mapping[str, str]) -> None:
    """Make the temporary view ``<name>_now``: the view ``name`` with every column of ``columns``.

    ``columns``: name -> type. A store built before a column (or the whole view) came in gives
    nulls (or no row) instead, so that its page can still be written.
    """
    known = {
        str(row[0])
        for row in store.execute(
            "select column_name from information_schema.columns "
            "where table_schema = 'main' and table_name = ?",
            [name],
        ).fetchall()
    }
    missing = [
        f"cast(null as {kind}) as {column}"
        for column, kind in columns.items()
        if column not in known
    ]
    parts = ", ".join(["*", *missing] if known else missing)
    source = f"from {name}" if known else "where false"
    store.execute(f"create or replace temp view {name}_now as select {parts} {source}")
