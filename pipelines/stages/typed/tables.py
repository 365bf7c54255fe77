"""From verbatim text to the contract's names and types: the stage ``typed``.

Times become minutes after birth here, once, on UTC instants; the clock times stay behind in
the scratch file. A cell that cannot be read becomes null and is listed, never guessed.
"""

from collections.abc import Sequence

import duckdb

from pipelines.base.insert_rows import insert_rows
from pipelines.base.sql import fixed_sql, quote
from pipelines.definitions.read_contract import Column, Contract, Table, read_contract
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_takes import Take
from pipelines.stages.raw.export_text import recorded_text
from pipelines.stages.raw.kept_rows import record_id
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.typed.cells import stated_unit, typed_expression

# row_id = (file index * 256 + take) * 2^36 + line: unique in a table, and one row for one line.
_LINE_BITS = 36
_TAKES = 256
_ROW_HEAD = ("row_id", "newborn_id", "unit", "record_id", "source_file", "source_line")
_BIRTH_COLUMNS = ("birth_month", "birth_weekday", "birth_hour", "birth_order")


def typed_columns(table: Table) -> list[Column]:
    """Columns of the typed table beyond its row head, in contract order."""
    return [column for column in table.stored_columns if column.name != "record_id"]


def create_typed_tables(
    connection: duckdb.DuckDBPyConnection, contract: Contract | None = None
) -> None:
    """Create the empty typed tables from the contract (None: as shipped), and the fixed ones."""
    contract = contract or read_contract()
    connection.execute("create schema typed")
    for table in contract.values():
        columns = [
            "row_id bigint",
            "newborn_id integer",
            "unit varchar",
            "record_id varchar",
            "source_file varchar",
            "source_line bigint",
            *(f"{column.name} {column.duckdb_type}" for column in typed_columns(table)),
        ]
        if table.name == "admission":
            columns.append("birth_date date")
        columns += ["unreadable varchar[]", "unmapped varchar[]"]
        connection.execute(f"create table typed.{table.name} ({', '.join(columns)})")
    connection.execute(fixed_sql("stages/typed/ledger"))
    insert_rows(
        connection,
        "typed.kind_unit",
        [(kind.name, kind.unit) for table in contract.values() for kind in table.kinds.values()],
    )
    for name in ("unreadable", "unmapped"):
        parts = " union all ".join(
            f"select '{table}' as table_name, row_id, unnest({name}) as column_name "
            f"from typed.{table} where {name} is not null"
            for table in contract
        )
        connection.execute(f"create view typed.{name} as {parts}")


def create_raw_views(
    connection: duckdb.DuckDBPyConnection, raws: Sequence[RawFile], contract: Contract
) -> None:
    """Create ``raw.<table>``: the canonical columns still as the export's text, by row_id."""
    for table in contract.values():
        parts = [
            _raw_select(raw, place, take, table)
            for raw in raws
            for place, take in enumerate(raw.spec.takes)
            if take.table == table.name
        ]
        names = ", ".join(f"cast(null as varchar) as {name}" for name in table.raw_columns)
        empty = f"select 0::bigint as row_id, {names} where false"
        connection.execute(
            f"create or replace view raw.{table.name} as {' union all '.join(parts) or empty}"
        )


def row_id_of(raw: RawFile, place: int, line: str = "source_line") -> str:
    return f"{(raw.index * _TAKES + place) << _LINE_BITS} + {line}"


def _raw_select(raw: RawFile, place: int, take: Take, table: Table) -> str:
    cells = [f"{_verbatim(raw, take, name)} as {name}" for name in table.columns]
    if table.kinds:
        stated = stated_unit(raw.unit, raw, table.kinds, take.sources.get("value"))
        cells.append(f"{stated} as stated_unit")
    return f"select {row_id_of(raw, place)} as row_id, {', '.join(cells)} from {raw.table}"


def _verbatim(raw: RawFile, take: Take, name: str) -> str:
    source = take.sources.get(name)
    return "cast(null as varchar)" if source is None else recorded_text(raw, source)


def read_births(connection: duckdb.DuckDBPyConnection, unit: Unit, raws: Sequence[RawFile]) -> None:
    """Fill ``raw.birth`` (newborn_id, record_id, born_at) from the kept admission rows."""
    parts = []
    for raw in raws:
        table = raw.unit.contract["admission"]
        for place, take in enumerate(raw.spec.takes):
            if take.table != "admission":
                continue
            born = typed_expression(raw.unit, raw, take, table, table.columns["birth_time"])
            parts.append(
                f"select {raw.index} as file_index, source_line, {record_id(raw, take)} as "
                f"record_id, {born} as born_at, {row_id_of(raw, place)} as row_id from {raw.table}"
            )
    connection.execute(
        f"""
        create table if not exists raw.birth (
            newborn_id integer, unit varchar, record_id varchar, born_at timestamptz, row_id bigint
        );
        insert into raw.birth
        select
            (select coalesce(max(newborn_id), 0) from raw.birth)
                + row_number() over (order by born.file_index, born.source_line),
            record.unit, record.record_id, born.born_at, born.row_id,
        from ({" union all ".join(parts)}) as born
        inner join raw.record as record
            on record.file_index = born.file_index and record.source_line = born.source_line
        where record.unit = {quote(unit.id)}
        """
    )


def fill_typed(connection: duckdb.DuckDBPyConnection, unit: Unit, raw: RawFile) -> None:
    """Insert every take of one file into its typed table."""
    for place, take in enumerate(raw.spec.takes):
        table = unit.contract[take.table]
        connection.execute(_insert(unit, raw, place, take, table))
    _note_sources(connection, raw)


def _insert(unit: Unit, raw: RawFile, place: int, take: Take, table: Table) -> str:
    columns = typed_columns(table)
    typed = [
        f"{typed_expression(unit, raw, take, table, column)} as {column.name}" for column in columns
    ]
    values = [_value(unit, column) for column in columns]
    extra = [f"{_birth_date(unit)} as birth_date"] if table.name == "admission" else []
    names = [*_ROW_HEAD, *(column.name for column in columns)]
    names += ["birth_date"] if extra else []
    unreadable, unmapped = _misfits(raw, take, table)
    return f"""
    insert into typed.{table.name} ({", ".join(names)}, unreadable, unmapped)
    with kept as (
        select file.*, birth.newborn_id, birth.born_at, birth.record_id
        from {raw.table} as file
        inner join raw.birth as birth
            on birth.unit = {quote(unit.id)} and birth.record_id = {record_id(raw, take)}
        anti join raw.rejected as rejected
            on rejected.file_index = {raw.index} and rejected.source_line = file.source_line
        where {_says_something(raw, take, table)}
    ),
    read as (
        select *, {row_id_of(raw, place)} as row_id, {", ".join(typed)}
        from kept
    )
    select row_id, newborn_id, {quote(unit.id)}, record_id, {raw.name_of("source_line")},
        {raw.line_of("source_line")},
        {", ".join([*values, *extra])}, {unreadable}, {unmapped}
    from read
    """


def _value(unit: Unit, column: Column) -> str:
    """Return the typed value; for a clock unit the birth columns come from the birth instant."""
    if unit.time_form == "clock" and column.name in _BIRTH_COLUMNS:
        local = f"timezone({quote(unit.zone or 'UTC')}, born_at)"
        return {
            "birth_month": f"cast(date_trunc('month', {local}) as date)",
            "birth_weekday": f"isodow({local})",
            "birth_hour": f"hour({local})",
            "birth_order": "cast(null as integer)",  # numbered once all files are read
        }[column.name]
    return column.name


def _birth_date(unit: Unit) -> str:
    if not unit.keep_birth_date:
        return "cast(null as date)"
    return f"cast(timezone({quote(unit.zone or 'UTC')}, born_at) as date)"


def _says_something(raw: RawFile, take: Take, table: Table) -> str:
    """A wide row yields an event only where it says something of it; else nothing is documented."""
    if table.name == "admission":
        return "true"
    texts = [
        recorded_text(raw, source)
        for name, source in take.sources.items()
        if name != "record_id" and source.value is None
    ]
    return f"coalesce({', '.join(texts)}) is not null" if texts else "true"


def _misfits(raw: RawFile, take: Take, table: Table) -> tuple[str, str]:
    """Return two SQL lists: columns whose text did not fit its type, and codes on no list."""
    unreadable: list[str] = []
    unmapped: list[str] = []
    for name, source in take.sources.items():
        column = table.columns[name]
        if source.value is not None or name == "record_id" or column.type in {"text", "category"}:
            continue
        value = "born_at" if column.type == "instant" else name
        test = f"case when {recorded_text(raw, source)} is not null and {value} is null "
        is_code = column.type == "code" or source.recode is not None
        (unmapped if is_code else unreadable).append(f"{test} then '{name}' end")
    return _name_list(unreadable), _name_list(unmapped)


def _name_list(cases: Sequence[str]) -> str:
    if not cases:
        return "cast(null as varchar[])"
    # Most rows have no misfit: a null list costs nothing to store or to unnest.
    return (
        f"case when coalesce({', '.join(cases)}) is not null "
        f"then list_filter([{', '.join(cases)}], lambda name : name is not null) end"
    )


def _note_sources(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    rows = [
        (raw.unit.id, take.table, name, part.name, ", ".join(source.columns), present)
        for part in raw.every_part
        for take in raw.spec.takes
        for name, source in take.sources.items()
        if source.columns
        for present in (_present(raw, source),)
        if present or not raw.has_own_names
    ]
    insert_rows(connection, "typed.column_source", rows)


def _present(raw: RawFile, source: object) -> bool:
    return all(raw.column(local) is not None for local in getattr(source, "columns", ()))


def finish_typed(connection: duckdb.DuckDBPyConnection) -> None:
    """Number the births, list the repeats and the rejected rows, close the load log."""
    for name in ("birth_order", "duplicate", "rejected"):
        connection.execute(fixed_sql(f"stages/typed/{name}"))
