"""The stage ``judged``: flags joined to their record, and tables with unusable values masked.

Nothing is deleted or corrected: ``judged.<table>`` is a view over ``typed.<table>`` in which
an error-flagged cell reads null and ``unusable`` names it. A view, because the few masked
cells are a small table, while a copy would store every reading twice.
"""

from collections.abc import Iterable, Sequence
from typing import Any

import duckdb

from pipelines.base.insert_rows import insert_rows
from pipelines.base.sql import fixed_sql
from pipelines.definitions.read_contract import Column, Contract, Table
from pipelines.definitions.read_units import Unit
from pipelines.definitions.safe_to_say import safe_to_say

# A text in a column that is no time, yet looks like a date, a clock time or a long number (a
# shifted column, say): its shape is shown, for nothing finer than the birth hour may be kept.
_LOOKS_IDENTIFYING = r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}:\d{2}|\d{7,}"
# Identity of the row; a flag on these never blanks them.
_NEVER_MASKED = {"record_id"}


def unit_settings(unit: Unit, off: Sequence[str] = ()) -> dict[str, Any]:
    """Return what judging must know of a unit: its [checks], its zone, its reference's path.

    ``off`` are rules that are other units' own. ``size_reference`` stands beside the unit's
    file unless its path is absolute.
    """
    settings = {**unit.checks, "zone": unit.zone}
    if off:
        settings["off"] = [*settings.get("off", ()), *off]
    if "size_reference" in settings and unit.path is not None:
        settings["size_reference"] = unit.path.parent / settings["size_reference"]
    return settings


def start(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the empty ``judged.flag`` and the working tables ``found`` and ``misfit``."""
    connection.execute(fixed_sql("stages/judged/flag"))
    connection.execute(fixed_sql("stages/judged/found"))


def collect_flags(connection: duckdb.DuckDBPyConnection, contract: Contract) -> None:
    """Fill ``judged.flag`` from ``found``: record, file and line from typed, text from raw."""
    connection.execute(fixed_sql("stages/judged/whole_column"))
    hits = connection.execute(
        "select table_name, list_sort(list(distinct column_name)) from found "
        "where row_id is not null group by table_name order by table_name"
    ).fetchall()
    for table_name, columns in hits:
        connection.execute(_collect(contract[table_name], columns))
    _say_safely(connection)


def _say_safely(connection: duckdb.DuckDBPyConnection) -> None:
    """Of a text that may be a name or a sentence, a flag repeats the shape alone."""
    declared = {row[0] for row in connection.execute("from typed.declared_word").fetchall()}
    texts = connection.execute(
        "select distinct recorded_value from judged.flag "
        "where recorded_value is not null and column_name <> 'record_id'"
    ).fetchall()
    said = [(text, safe_to_say(text, declared)) for (text,) in texts]
    changed = [pair for pair in said if pair[0] != pair[1]]
    if not changed:
        return
    connection.execute("create or replace temp table said_as (text varchar, shape varchar)")
    insert_rows(connection, "said_as", changed)
    connection.execute(
        "update judged.flag set recorded_value = said_as.shape from said_as "
        "where recorded_value = said_as.text and column_name <> 'record_id'"
    )
    connection.execute("drop table said_as")


def _shape(text: str) -> str:
    r"""Return SQL for the shape of a text: ``05/03/2024 14:05`` gives ``99/99/9999 99:99``."""
    return rf"regexp_replace(regexp_replace({text}, '\p{{Nd}}', '9', 'g'), '\p{{L}}', 'x', 'g')"


def recorded_value(column: Column) -> str:
    """Return SQL for what a flag may repeat of a cell; ``row`` is typed, ``text`` is raw.

    Of a time: its minutes after birth, or its shape. Of anything else: the export's text,
    unless the text looks like a date, a clock time or a long number; then its shape.
    """
    raw = f"text.{column.name}"
    if column.type == "minutes":
        # As double: %g-like printing without a trailing ".0".
        known = f"regexp_replace(cast(row.{column.name} as varchar), '\\.0$', '') || ' min'"
        return f"if(row.{column.name} is null, {_shape(raw)}, {known})"
    if column.is_time:
        return _shape(raw)
    if column.name in _NEVER_MASKED:
        return raw
    return f"if(regexp_matches({raw}, '{_LOOKS_IDENTIFYING}'), {_shape(raw)}, {raw})"


def _collect(table: Table, columns: Iterable[str]) -> str:
    # Only the columns that have a flag are read: raw is text, and wide.
    whens = " ".join(
        f"when '{name}' then {recorded_value(table.columns[name])}" for name in columns
    )
    return f"""
    insert into judged.flag by name
    select
        row.unit,
        row.record_id,
        '{table.name}' as table_name,
        row.row_id,
        row.source_file,
        row.source_line,
        found.column_name,
        case found.column_name {whens} end as recorded_value,
        found.rule_id,
        found.severity,
        found.explanation,
        found.suggestion,
    from found
    inner join typed.{table.name} as row using (row_id)
    left join raw.{table.name} as text using (row_id)
    where found.table_name = '{table.name}'
    order by row.row_id, found.column_name, found.rule_id
    """


def mask(connection: duckdb.DuckDBPyConnection, contract: Contract) -> None:
    """Create ``judged.unusable`` and the view ``judged.<table>`` of every canonical table."""
    connection.execute(fixed_sql("stages/judged/unusable"))
    for table in contract.values():
        described = connection.execute(f"describe typed.{table.name}").fetchall()
        connection.execute(_masked_view(table, [str(row[0]) for row in described]))


def _masked_view(table: Table, typed_columns: Iterable[str]) -> str:
    lines = []
    for name in typed_columns:
        if name in {"unreadable", "unmapped"}:
            continue  # told by flags from here on
        if name in table.columns and name not in _NEVER_MASKED:
            lines.append(f"if(list_contains(cell.unusable, '{name}'), null, row.{name}) as {name}")
        else:
            lines.append(f"row.{name}")
    return f"""
    create or replace view judged.{table.name} as
    select
        {", ".join(lines)},
        coalesce(cell.unusable, cast([] as varchar[])) as unusable,
    from typed.{table.name} as row
    left join (
        select row_id, unusable from judged.unusable where table_name = '{table.name}'
    ) as cell using (row_id)
    """
