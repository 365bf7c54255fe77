"""What the rules may read beside ``typed``: working tables made once, before any check runs.

| table | what |
|---|---|
| ``contract_limit`` | the limits of the contract by table, column and kind |
| ``size_curve`` | curves of weight, length and head by unit, sex and day of gestation |
| ``size_choice`` | the curves that one newborn may be read from |
| ``size_z`` | restricted z-scores of each newborn's sizes, the mildest of those curves |
| ``birth_clock`` | minute of the hour at birth; whether the clock was put back within two hours |
| ``gestation_text`` | gestation as written, where it could be days among weeks or a decimal |
| ``weight_exact`` | very small weights before they were rounded to a tenth of a gram |
| ``text_reading`` | what a number that cannot be read probably says, where its text shows it |
| ``kind_after_leaving`` | kinds of event that are rightly later than the stay |
| ``after_leaving`` | events recorded after the newborn left, but for these kinds |
| ``timed_entry`` | every entry with a time, of all event tables |
| ``newborn_entries`` | what the timed entries of one newborn have in common |

``earlier_fits(at_minute, at_least, at_most)`` says which slip of a clock or a date would bring a
time back between two bounds.

All are temporary: none reaches the store.
"""

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd

from pipelines.base.insert_rows import insert_rows
from pipelines.base.measuring_units import CONVERSIONS, MOLAR
from pipelines.base.sql import fixed_sql
from pipelines.definitions.read_contract import Contract, Limits, read_contract
from pipelines.definitions.size_curves import (
    SIZE_COLUMNS,
    read_reference,
    screening_envelope,
    with_tails,
)

Settings = Mapping[str, Mapping[str, Any]]
_CURVE_NAMES = dict(zip(SIZE_COLUMNS, ("weight_curve", "length_curve", "head_curve"), strict=True))
_HIGH = ("high_from", "high_from_z", "high_step")
_CURVE = ("m", "l", "s", "sd_low", "sd_high", "low_3", "low_step", *_HIGH)
# Where there is no raw stage (examples), nothing is known of the text or the clock.
_WITHOUT_RAW = {
    "birth_clock": "newborn_id integer, minute_of_hour bigint, is_clock_put_back boolean",
    "gestation_text": "row_id bigint, recorded varchar, is_one_decimal boolean",
    "weight_exact": "row_id bigint, weight_g double",
}
_RAW_TABLE = {"birth_clock": "birth", "gestation_text": "admission", "weight_exact": "admission"}


def prepare(
    connection: duckdb.DuckDBPyConnection,
    settings: Settings | None = None,
    contract: Contract | None = None,
) -> None:
    """Make every working table of the rules; ``masks.start`` has made ``misfit`` before.

    ``settings`` and ``contract`` as in ``expectations.judge``; ``size_reference`` and ``zone``
    are read here.
    Raises DeclarationError where a unit's own size reference cannot be used.
    """
    settings, contract = settings or {}, contract or read_contract()
    _contract_limits(connection, contract)
    _size_curves(connection, settings)
    connection.execute(fixed_sql("stages/judged/size"))
    _zones(connection, settings)
    _mass_factors(connection)
    _molar_factors(connection)
    for name, columns in _WITHOUT_RAW.items():
        if has_table(connection, "raw", _RAW_TABLE[name]):
            connection.execute(fixed_sql(f"stages/judged/{name}"))
        else:
            connection.execute(f"create or replace temp table {name} ({columns})")
    _unreadable_texts(connection, contract)
    connection.execute(fixed_sql("stages/judged/text_reading"))
    _kinds_after_leaving(connection, contract)
    connection.execute(fixed_sql("stages/judged/after_leaving"))
    connection.execute(fixed_sql("stages/judged/newborn_entries"))


def _unreadable_texts(connection: duckdb.DuckDBPyConnection, contract: Contract) -> None:
    """Make ``unreadable_text``: the text of every number that could not be read."""
    connection.execute(
        "create or replace temp table unreadable_text (table_name varchar, row_id bigint, "
        "column_name varchar, kind varchar, text varchar, stated_unit varchar)"
    )
    listed = connection.execute(
        "select table_name, list_sort(list(distinct column_name)) from misfit "
        "where misfit = 'unreadable' group by table_name order by table_name"
    ).fetchall()
    for table, columns in listed:
        types = {name: contract[table].columns[name].type for name in columns}
        names = [name for name, kind in types.items() if kind in {"integer", "decimal"}]
        if names and has_table(connection, "raw", table):
            whens = " ".join(f"when '{name}' then text.{name}" for name in names)
            kind = "row.kind" if contract[table].kinds else "null"
            stated = "text.stated_unit" if contract[table].kinds else "null"
            connection.execute(
                f"insert into unreadable_text select '{table}', row_id, misfit.column_name, "
                f"{kind}, case misfit.column_name {whens} end, {stated} from misfit "
                f"inner join raw.{table} as text using (row_id) "
                f"inner join typed.{table} as row using (row_id) "
                f"where misfit.misfit = 'unreadable' and misfit.table_name = '{table}'"
            )


def has_table(connection: duckdb.DuckDBPyConnection, schema: str, name: str) -> bool:
    """Whether ``schema.name`` can be read; ``schema`` may be an attached database."""
    # Asked, not tried: inside a transaction a failed statement would end everything.
    found = connection.execute(
        "select 1 from (select schema_name as schema, table_name as name, database_name from "
        "duckdb_tables() union all select schema_name, view_name, database_name from "
        "duckdb_views()) where $1 in (schema, database_name) and name = $2",
        [schema, name],
    )
    return found.fetchone() is not None


def units_of(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the ids of the units in this build, in order."""
    # Every event belongs to an admitted newborn, so admission knows every unit.
    rows = connection.execute("select distinct unit from typed.admission order by unit").fetchall()
    return [str(row[0]) for row in rows]


def _contract_limits(connection: duckdb.DuckDBPyConnection, contract: Contract) -> None:
    """Make ``contract_limit``, so that a rule can say "beyond the limits" without a number."""
    connection.execute(
        "create or replace temp table contract_limit (table_name varchar, column_name varchar, "
        "kind varchar, error_below double, error_above double, query_below double, "
        "query_above double)"
    )
    insert_rows(
        connection,
        "contract_limit",
        [
            [*place, limits.error_below, limits.error_above, limits.query_below, limits.query_above]
            for place, limits in _limits(contract)
        ],
    )


def _kinds_after_leaving(connection: duckdb.DuckDBPyConnection, contract: Contract) -> None:
    """Make ``kind_after_leaving``: the kinds of event that are rightly later than the stay."""
    connection.execute(
        "create or replace temp table kind_after_leaving (table_name varchar, kind varchar)"
    )
    insert_rows(
        connection,
        "kind_after_leaving",
        [
            [table.name, kind]
            for table in contract.values()
            for column in table.columns.values()
            for kind in column.after_leaving_kinds
        ],
    )


def _limits(contract: Contract) -> Iterator[tuple[tuple[str, str, str | None], Limits]]:
    for table in contract.values():
        for column in table.columns.values():
            if column.limits.any:
                yield (table.name, column.name, None), column.limits
        for kind in table.kinds.values():
            yield (table.name, "value", kind.name), kind.limits


def _size_curves(connection: duckdb.DuckDBPyConnection, settings: Settings) -> None:
    """Make ``size_curve``: the envelope, or the unit's own reference in its place."""
    envelope = _screening_curves()
    frames = [envelope.iloc[:0].assign(unit="")]
    for unit in units_of(connection):
        own = settings.get(unit, {}).get("size_reference")
        curves = envelope if own is None else with_tails(read_reference(Path(own)))
        frames.append(curves.assign(unit=unit))
    connection.register("size_curve_row", pd.concat(frames, ignore_index=True))
    # nan is how the frame says "not there"; SQL says null.
    fields = ", ".join(f"'{name}': if(isnan({name}), null, {name})" for name in _CURVE)
    columns = ", ".join(
        f"any_value({{{fields}}}) filter (where column_name = '{column}') as {name}"
        for column, name in _CURVE_NAMES.items()
    )
    connection.execute(
        f"create or replace temp table size_curve as select unit, part, sex, "
        f"gestational_age_days, {columns} from size_curve_row "
        "group by unit, part, sex, gestational_age_days"
    )
    connection.unregister("size_curve_row")


@cache
def _screening_curves() -> pd.DataFrame:
    return with_tails(screening_envelope())


def _zones(connection: duckdb.DuckDBPyConnection, settings: Settings) -> None:
    connection.execute("create or replace temp table unit_zone (unit varchar, zone varchar)")
    zones = [(unit, own["zone"]) for unit, own in settings.items() if own.get("zone") is not None]
    insert_rows(connection, "unit_zone", zones)


def _mass_factors(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute("create or replace temp table mass_factor (grams double)")
    insert_rows(
        connection,
        "mass_factor",
        [[rule.to_canonical(1.0)] for rule in CONVERSIONS["g"].values()],
    )


def _molar_factors(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute(
        "create or replace temp table molar_factor (substance varchar, unit varchar, mg_dl double)"
    )
    factors = [
        [substance, unit, rule.to_canonical(1.0)]
        for substance, rules in MOLAR.items()
        for unit, rule in rules.items()
    ]
    insert_rows(connection, "molar_factor", factors)
