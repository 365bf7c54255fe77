"""Small typed stages for the tests, with a raw stage beside them."""

from collections.abc import Mapping

import duckdb

from expectations.examples import EXAMPLE_UNIT, give_rows
from expectations.rules_of_values import Cells
from pipelines.base.headed_sql import read_pipe_table
from pipelines.definitions.read_contract import read_contract
from pipelines.stages.typed.tables import create_typed_tables


def make_store(
    given: Mapping[str, str | Cells], raw: Mapping[str, str] | None = None
) -> duckdb.DuckDBPyConnection:
    """Return a store whose typed rows are ``given``; ``raw`` gives their text by row_id.

    Without ``raw`` the text is the typed value as DuckDB writes it.
    """
    connection = duckdb.connect()
    create_typed_tables(connection)
    connection.execute("create schema raw")
    cells = {
        name: read_pipe_table(text) if isinstance(text, str) else text
        for name, text in given.items()
    }
    give_rows(connection, cells)
    for table in read_contract().values():
        stored = {column.name for column in table.stored_columns}
        texts = ", ".join(
            f"cast({name if name in stored else 'null'} as varchar) as {name}"
            for name in table.raw_columns
        )
        connection.execute(
            f"create table raw.{table.name} as select row_id, {texts} from typed.{table.name}"
        )
        for row in read_pipe_table((raw or {}).get(table.name, "row_id\n")):
            sets = ", ".join(f"{name} = ?" for name in row if name != "row_id")
            connection.execute(
                f"update raw.{table.name} set {sets} where row_id = ?",
                [*(value for name, value in row.items() if name != "row_id"), row["row_id"]],
            )
    return connection


def misfit(
    connection: duckdb.DuckDBPyConnection, kind: str, table: str, row_id: int, column: str
) -> None:
    """Mark one cell as ``unreadable`` or ``unmapped``, as the typed stage does."""
    connection.execute(f"update typed.{table} set {kind} = [?] where row_id = ?", [column, row_id])


def sourced(
    connection: duckdb.DuckDBPyConnection, table: str, column: str, local: str, is_present: bool
) -> None:
    """Say that the unit file maps ``local`` to ``column``."""
    connection.execute(
        "insert into typed.column_source (unit, table_name, column_name, source_file, "
        "local_column, is_present) values (?, ?, ?, 'example', ?, ?)",
        [EXAMPLE_UNIT, table, column, local, is_present],
    )


def flags(connection: duckdb.DuckDBPyConnection) -> set[tuple[str | None, str, str, str]]:
    """Return every flag as (record, column, rule, severity)."""
    rows = connection.execute(
        "select record_id, column_name, rule_id, severity from judged.flag"
    ).fetchall()
    return {(row[0], row[1], row[2], row[3]) for row in rows}
