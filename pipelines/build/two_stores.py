"""What changed since last time: numbers of the same month that are no longer the same, and why.

Two stores of one unit are compared newborn by newborn, so each restated number has its causes
counted. Of a release only its counts are kept, so there the causes cannot be told apart.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

import duckdb
import pandas as pd

from pipelines.base.errors import StoreError, nearest
from pipelines.base.sql import fixed_sql, quote
from pipelines.base.store_file import open_store
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.states import COUNTS
from pipelines.words.of_restated import CAUSES

_NUMBERS: Final = [name for name in COUNTS if name != "not_in_numerator"]
_SIDES: Final = ("old", "new")
_KEYS: Final = ["measure_id", "period_start"]
# Where a row stands, not what was recorded; running orders move when a newborn is added.
_NOT_CONTENT: Final = {
    *("row_id", "newborn_id", "unit", "record_id", "source_file", "source_line"),
    *("birth_order", "unmapped"),
}


def restated(new_store: Path, old_store: Path, unit: str) -> pd.DataFrame:
    """List the monthly numbers of a unit that differ between two of its stores.

    Returns one row per measure and month with any changed count: measure_id, title,
    period_start, old_ and new_ numerator, counted and rate, changed (which counts, in words),
    one column of newborns per cause (CAUSES) and why (in words). Months that only one store has,
    and measures that only one has, are not restated. Raises StoreError where a store lacks
    the unit.
    """
    sides = {"old": old_store, "new": new_store}
    with duckdb.connect() as connection:
        for side, path in sides.items():
            _check(path, unit)
            connection.execute(f"attach {quote(str(path.resolve()))} as {side} (read_only)")
        return compare_attached(connection, unit, {"old": "old", "new": "new"})


def compare_attached(
    connection: duckdb.DuckDBPyConnection, unit: str, catalogs: Mapping[str, str]
) -> pd.DataFrame:
    """As ``restated``, of two stores attached to a connection; ``catalogs``: old and new.

    The newborns of both stores are copied into temporary tables, which stay until the next call.
    """
    columns = {
        table: _recorded_columns(connection, list(catalogs.values()), table)
        for table in read_contract()
    }
    for side in _SIDES:
        _take(connection, side, catalogs[side], unit, columns)
    _compare_builds(connection, unit, catalogs)
    causes = connection.execute(fixed_sql("build/restated_causes")).df()
    titles = connection.execute("select measure_id, title from new_measure").df()
    results = {side: _results(connection, side) for side in _SIDES}
    return _said(_changed(results), causes, titles)


def _check(path: Path, unit: str) -> None:
    with open_store(path) as store:
        units = [row[0] for row in store.execute("select unit from unit_info").fetchall()]
    if unit not in units:
        raise StoreError(f"{path}: has no unit '{unit}'.{nearest(unit, units)}")


def _take(
    connection: duckdb.DuckDBPyConnection,
    side: str,
    catalog: str,
    unit: str,
    columns: Mapping[str, list[str]],
) -> None:
    """Copy what is compared of one store into temporary tables <side>_<name>."""
    of_unit = f"where unit = {quote(unit)}"
    selects = {
        "state": f"measure_id, record_id, item, period, state::varchar as state "
        f"from {catalog}.membership {of_unit} and period is not null",
        "newborn": f"distinct record_id from {catalog}.newborn {of_unit}",
        "month": f"distinct birth_month as period from {catalog}.newborn {of_unit}",
        "flag": "record_id, table_name, column_name, rule_id, severity, recorded_value "
        f"from {catalog}.flag {of_unit} and record_id is not null",
        "answer": f"record_id, table_name, column_name, rule_id, answer "
        f"from {catalog}.flag {of_unit} and answer is not null",
        "measure": f"measure_id, title, version from {catalog}.measure_info",
        "policy": "measure_id, name, value::varchar as value, valid_from, valid_before "
        f"from {catalog}.policy {of_unit}",
        "content": _content(catalog, unit, columns),
    }
    for name, select in selects.items():
        connection.execute(f"create or replace temp table {side}_{name} as select {select}")
    connection.execute(
        f"create or replace temp table {side}_result as select * from {catalog}.result {of_unit} "
        "and period_kind = 'month' and stratifier = 'all newborns'"
    )


def _content(catalog: str, unit: str, columns: Mapping[str, list[str]]) -> str:
    """Select what the export said of each newborn, one digest per row; masks play no part."""
    parts = [
        # Not DuckDB's hash: it is the same for some rows that differ (2.0.1).
        f"select record_id, {quote(table)} as table_name, "
        f"md5(row({', '.join(names)})::varchar) as content "
        f"from {catalog}.typed.{table} where unit = {quote(unit)}"
        for table, names in columns.items()
        if names
    ]
    return f"* from ({' union all '.join(parts)})"


def _recorded_columns(
    connection: duckdb.DuckDBPyConnection, catalogs: Sequence[str], table: str
) -> list[str]:
    """Columns of an export that both stores have, by name: the contract's and units' own."""
    described = (
        {str(row[0]) for row in connection.execute(f"describe {one}.typed.{table}").fetchall()}
        for one in catalogs
    )
    return sorted(set.intersection(*described) - _NOT_CONTENT)


def _compare_builds(
    connection: duckdb.DuckDBPyConnection, unit: str, catalogs: Mapping[str, str]
) -> None:
    old, new = catalogs["old"], catalogs["new"]
    connection.execute(
        f"""
        create or replace temp table build as
        select
            bool_or(key = 'rules_hash' and old_info.value <> new_info.value) as is_new_rule,
            bool_or(key = 'measures_hash' and old_info.value <> new_info.value)
                as is_new_measure_file,
            (select unit_file_hash from {old}.unit_info where unit = {quote(unit)})
                <> (select unit_file_hash from {new}.unit_info where unit = {quote(unit)})
                as is_new_unit_file,
        from {old}.build_info as old_info
        inner join {new}.build_info as new_info using (key)
        """
    )


def _results(connection: duckdb.DuckDBPyConnection, side: str) -> pd.DataFrame:
    """Counts, counted (the rate's base) and rate of each month and measure of one store."""
    return connection.execute(
        f"""
        select measure_id, period_start, {", ".join(_NUMBERS)}, rate, counted
        from {side}_result
        """
    ).df()


def _changed(results: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Pair the months that both stores have and keep those with a changed count."""
    both = results["old"].merge(results["new"], on=_KEYS, suffixes=("_old", "_new"))
    both.columns = pd.Index([_sided(str(name)) for name in both.columns])
    differs = [both[f"old_{name}"] != both[f"new_{name}"] for name in _NUMBERS]
    both = both[pd.concat(differs, axis=1).any(axis=1)].reset_index(drop=True)
    pairs = [
        [(name, *pair) for pair in zip(both[f"old_{name}"], both[f"new_{name}"], strict=True)]
        for name in _NUMBERS
    ]
    both["changed"] = [
        ", ".join(f"{name} {old:.0f} to {new:.0f}" for name, old, new in numbers if old != new)
        for numbers in zip(*pairs, strict=True)
    ]
    return both


def _sided(name: str) -> str:
    bare, _, side = name.rpartition("_")
    return f"{side}_{bare}" if side in _SIDES else name


def _said(changed: pd.DataFrame, causes: pd.DataFrame, titles: pd.DataFrame) -> pd.DataFrame:
    wide = causes.pivot_table("newborns", _KEYS, "cause", "sum", fill_value=0)
    wide = wide.reindex(columns=list(CAUSES), fill_value=0).reset_index()
    found = changed.merge(wide, on=_KEYS, how="left").merge(titles, on="measure_id")
    found[list(CAUSES)] = found[list(CAUSES)].fillna(0).astype("int64")
    found["why"] = [
        _why(dict(zip(CAUSES, row, strict=True)))
        for row in found[list(CAUSES)].itertuples(index=False)
    ]
    shown = [f"{side}_{name}" for name in ("numerator", "counted", "rate") for side in _SIDES]
    head = ["measure_id", "title", "period_start"]
    return found[[*head, *shown, "changed", *CAUSES, "why"]].sort_values(head, ignore_index=True)


def _why(counts: Mapping[str, int]) -> str:
    parts = [f"{words} ({counts[cause]})" for cause, words in CAUSES.items() if counts[cause]]
    return "; ".join(parts) or CAUSES["not_told"]


def restated_words(found: pd.DataFrame, most: int = 20) -> list[str]:
    """Say what was restated, one sentence per number; the rest are counted."""
    if found.empty:
        return ["No number of an earlier month has changed."]
    said = [
        f"{one.title}, {one.period_start:%Y-%m}: {one.old_numerator} of {one.old_counted} is now "
        f"{one.new_numerator} of {one.new_counted} ({one.changed}). Why: {one.why}."
        for one in found.head(most).itertuples()
    ]
    more = [f"And {len(found) - most} more."] if len(found) > most else []
    return [f"{len(found)} monthly numbers have changed.", *said, *more]
