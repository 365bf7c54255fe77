"""Run the worked examples of a rule: the same rows are its test and its documentation."""

from collections.abc import Mapping, Sequence

import duckdb
import pandas as pd

from expectations.check import find
from expectations.prepare import prepare
from expectations.rules_of_values import Cells, Example, Rule, read_rules
from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.laid_out import kept_last, undone
from pipelines.definitions.own_files import OwnFile
from pipelines.definitions.read_contract import Contract, read_contract
from pipelines.stages.judged import masks
from pipelines.stages.typed.tables import create_typed_tables

EXAMPLE_UNIT = "example_unit"
USUAL_MONTH = "2025-03-01"  # so that an example need not say when a newborn was born
_FOUND = ("table_name", "record_id", "column_name", "severity", "explanation", "suggestion")


@kept_last
def _ground(contract: Contract) -> duckdb.DuckDBPyConnection:
    """Return the empty tables in which every example is laid."""
    connection = duckdb.connect(config={"threads": 1})  # of a few rows, threads only cost
    create_typed_tables(connection, contract)
    return connection


def run_example(
    rule: Rule,
    example: Example,
    contract: Contract | None = None,
    own: Sequence[OwnFile] = (),
) -> pd.DataFrame:
    """Return the flags of ``rule`` on the example's rows, after the rules it gives way to.

    ``contract`` (None: as shipped) and ``own`` (units' own rules) as in ``expectations.judge``.
    Columns: table_name, record_id, column_name, severity, explanation, suggestion.
    """
    contract = contract or read_contract()
    with undone(_ground(contract)) as connection:
        give_rows(connection, example.given)
        _give_text(connection, example.text, contract)
        masks.start(connection)
        prepare(connection, contract=contract)
        every = read_rules(own=own)
        for other in (*(every[name] for name in rule.gives_way_to), rule):
            numbers = example.numbers if other is rule else {}
            for check in other.checks({EXAMPLE_UNIT: numbers}, off=()):
                find(connection, check, contract)
        return connection.execute(
            " union all ".join(
                f"select {', '.join(_FOUND)} from found left join typed.{table} using (row_id) "
                f"where rule_id = $1 and table_name = '{table}'"
                for table in rule.tables
            )
            + " order by table_name, record_id, column_name",
            [rule.id],
        ).df()


def give_rows(connection: duckdb.DuckDBPyConnection, given: Mapping[str, Cells]) -> None:
    """Insert pipe-table rows into the typed tables; ``record_id`` links the tables.

    A cell is cast by DuckDB to the type of its column; columns not given are null, but for
    the month of birth.
    Raises DeclarationError where a table has no such column.
    """
    records = sorted({str(row["record_id"]) for cells in given.values() for row in cells})
    newborns = {record: place for place, record in enumerate(records, start=1)}
    for name, cells in given.items():
        known = _stored(connection, name)
        usual = {"birth_month": USUAL_MONTH} if name == "admission" else {}
        for place, row in enumerate(cells, start=1):
            for column in row:
                if column not in known:
                    raise DeclarationError(
                        f"example: {name} has no column '{column}'.{nearest(column, known)}"
                    )
            full = {
                "row_id": place,
                "newborn_id": newborns[str(row["record_id"])],
                "source_file": "example",
                "source_line": place,
                "unit": EXAMPLE_UNIT,
            }
            full = {**full, **usual, **row}
            marks = ", ".join(
                "string_split(?, ',')" if known[column].endswith("[]") else "?" for column in full
            )
            connection.execute(
                f"insert into typed.{name} ({', '.join(full)}) values ({marks})",
                list(full.values()),
            )


def _give_text(
    connection: duckdb.DuckDBPyConnection, text: Mapping[str, Cells], contract: Contract
) -> None:
    """Make ``raw.<table>`` with the text of the records; nothing where no text is given."""
    if text:
        connection.execute("create schema raw")
    for name, cells in text.items():
        columns = ", ".join(f"{column} varchar" for column in contract[name].raw_columns)
        connection.execute(f"create table raw.{name} (row_id bigint, {columns})")
        for row in cells:
            said = {column: value for column, value in row.items() if column != "record_id"}
            marks = ", ".join("?" for _ in said)
            connection.execute(
                f"insert into raw.{name} (row_id, {', '.join(said)}) "
                f"select row_id, {marks} from typed.{name} where record_id = ?",
                [*said.values(), row["record_id"]],
            )


def _stored(connection: duckdb.DuckDBPyConnection, name: str) -> dict[str, str]:
    described = connection.execute(f"describe typed.{name}").fetchall()
    return {str(row[0]): str(row[1]) for row in described}


def differences(
    rule: Rule,
    example: Example,
    contract: Contract | None = None,
    own: Sequence[OwnFile] = (),
) -> list[str]:
    """Return what differs between the flags expected and found; empty where the example holds.

    Only the columns that the ``expect`` table names are compared.
    """
    names = list(example.expect[0]) if example.expect else ["record_id", "column_name"]
    found = run_example(rule, example, contract, own)[names].astype(object)
    got = {tuple(row) for row in found.where(found.notna(), None).itertuples(index=False)}
    want = {tuple(row[name] for name in names) for row in example.expect}
    lines = [f"expected but not found: {row}" for row in sorted(want - got, key=str)]
    return lines + [f"found but not expected: {row}" for row in sorted(got - want, key=str)]
