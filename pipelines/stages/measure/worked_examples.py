"""Run a measure's worked examples: small pipe tables in, states out."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import duckdb

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.headed_sql import read_pipe_table
from pipelines.base.laid_out import kept_last, undone
from pipelines.base.sql import MART, fixed_sql
from pipelines.definitions.finding_tiers import fill_tiers
from pipelines.definitions.policy import in_force
from pipelines.definitions.read_contract import Contract, read_contract
from pipelines.definitions.read_measures import Measure
from pipelines.definitions.read_units import EARLIEST, Policy, Unit
from pipelines.definitions.weight_centiles import fill_weight_centiles
from pipelines.stages.measure.engine import create_measure_tables, run_measure
from pipelines.stages.typed.tables import create_typed_tables

Row = dict[str, str | None]
_UNIT = "example"
_DEFAULTS = {"birth_month": "2025-01-01", "live_birth": "true"}


def _unit(measure: Measure, policy: Mapping[str, Any] | Sequence[Mapping[str, Any]]) -> Unit:
    """Return a unit with the example's policy: numbers, or several with ``from`` a birth date."""
    several = [policy] if isinstance(policy, Mapping) else policy
    for key in {key for one in several for key in one} - {"from"}:
        if key not in measure.numbers:
            raise DeclarationError(
                f"{measure.where} example: policy: no number '{key}'."
                f"{nearest(key, measure.numbers)}"
            )
    policies = tuple(
        Policy(
            measure.id,
            one.get("from", EARLIEST),
            {key: value for key, value in one.items() if key != "from"},
        )
        for one in several
        if one
    )
    return Unit(_UNIT, _UNIT, "minutes", None, (), False, (), {}, policies, ())


@kept_last
def _ground(contract: Contract) -> duckdb.DuckDBPyConnection:
    """Return the empty tables in which every example is laid."""
    connection = duckdb.connect(config={"threads": 1})  # of a few rows, threads only cost
    create_typed_tables(connection, contract)
    connection.execute("create schema judged; create schema mart")
    for table in contract:
        connection.execute(
            f"create table judged.{table} as "
            f"select * exclude (unreadable, unmapped), cast([] as varchar[]) as unusable "
            f"from typed.{table}"
        )
    create_measure_tables(connection)
    return connection


def _columns(connection: duckdb.DuckDBPyConnection, table: str) -> dict[str, str]:
    rows = connection.execute(f"describe judged.{table}").fetchall()
    return {str(row[0]): str(row[1]) for row in rows}


def _cells(rows: Sequence[Row], table: str, ids: Mapping[str, int]) -> dict[str, list[str | None]]:
    """Return the cells by column; a pipe table gives each of its rows the same columns."""
    records = [str(row["record_id"]) for row in rows]
    for record_id in records:
        if record_id not in ids:
            raise DeclarationError(f"example: '{record_id}' is not in given.admission.")
    every: dict[str, list[str | None]] = {
        "row_id": [str(place) for place in range(1, len(rows) + 1)],
        "newborn_id": [str(ids[record_id]) for record_id in records],
        "unit": [_UNIT] * len(rows),
        "unusable": [None] * len(rows),
    }
    for name, usual in (_DEFAULTS if table == "admission" else {}).items():
        every[name] = [usual] * len(rows)
    return {**every, **{name: [row[name] for row in rows] for name in rows[0]}}


def _insert(
    connection: duckdb.DuckDBPyConnection, table: str, rows: Sequence[Row], ids: Mapping[str, int]
) -> None:
    if not rows:
        return
    columns, cells = _columns(connection, table), _cells(rows, table, ids)
    for name in cells:
        if name not in columns:
            raise DeclarationError(
                f"example: table '{table}' has no column '{name}'.{nearest(name, columns)}"
            )
    given = ", ".join(
        f"unnest(${place}::varchar[]) as {name}" for place, name in enumerate(cells, 1)
    )
    values = ", ".join(
        f"coalesce(string_split(replace({name}, ' ', ''), ','), [])::{columns[name]}"
        if name == "unusable"
        else f"cast({name} as {columns[name]})"
        for name in cells
    )
    connection.execute(
        f"insert into judged.{table} ({', '.join(cells)}) select {values} from (select {given})",
        list(cells.values()),
    )


def run_example(
    measure: Measure, example: Mapping[str, Any], contract: Contract | None = None
) -> list[dict[str, Any]]:
    """Return the membership of one worked example; ``contract`` None: as shipped.

    One dict per newborn (item, band): record_id, measure_id, item, state, minutes, reason.
    Raises DeclarationError where the example names a table, column or record that is not there.
    """
    contract = contract or read_contract()
    measure = replace(measure, units=())  # the example's unit is nobody's
    given = {name: read_pipe_table(text) for name, text in example["given"].items()}
    for name in given:
        if name not in contract:
            raise DeclarationError(
                f"{measure.where} example: there is no table '{name}'.{nearest(name, contract)}"
            )
    unit = _unit(measure, example.get("policy", {}))
    with undone(_ground(contract)) as connection:
        fill_tiers(connection, [unit])
        fill_weight_centiles(connection, [unit])
        ids = {
            str(row["record_id"]): place
            for place, row in enumerate(given.get("admission", []), start=1)
        }
        for table in contract:
            _insert(connection, table, given.get(table, []), ids)
        for name in MART:
            connection.execute(fixed_sql(f"stages/mart/{name}"))
        run_measure(connection, in_force([unit], [measure]), measure)
        frame = connection.execute(
            "select record_id, measure_id, item, state::varchar as state, minutes, reason "
            "from measure.membership inner join mart.newborn using (newborn_id) order by all"
        )
        names = [column[0] for column in frame.description or []]
        return [dict(zip(names, row, strict=True)) for row in frame.fetchall()]


def expected_rows(measure: Measure, example: Mapping[str, Any]) -> list[Row]:
    """Return the rows an example expects, each with its measure_id and item filled in."""
    rows = read_pipe_table(example["expect"])
    return [{"measure_id": measure.id, "item": "1", **row} for row in rows]


def mismatches(
    measure: Measure, example: Mapping[str, Any], contract: Contract | None = None
) -> list[str]:
    """Return one sentence for each expectation that the measure does not meet; none is right."""
    found = run_example(measure, example, contract)
    by_key = {(row["record_id"], row["measure_id"], str(row["item"])): row for row in found}
    wanted = expected_rows(measure, example)
    said = []
    for row in wanted:
        key = (row["record_id"], row["measure_id"], str(row["item"]))
        got = by_key.get(key)
        if got is None:
            said.append(f"{key}: expected {row['state']}, got no row")
            continue
        for name in ("state", "minutes", "reason"):
            if name in row and not _same(row[name], got[name]):
                said.append(f"{key}: expected {name} {row[name]}, got {got[name]}")
    keys = {(row["record_id"], str(row["item"])) for row in wanted}
    listed = {row["measure_id"] for row in wanted}
    said += [
        f"{row['record_id']} item {row['item']}: got {row['state']}, nothing expected"
        for row in found
        if row["measure_id"] in listed and (row["record_id"], str(row["item"])) not in keys
    ]
    return said


def _same(wanted: str | None, got: Any) -> bool:
    if wanted is None or got is None:
        return wanted is None and got is None
    if isinstance(got, float):
        return abs(float(wanted) - got) < 1e-6
    return wanted == str(got)
