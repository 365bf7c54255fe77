"""Which rows of the export files are kept, and why each other row is not.

Rows in = kept + rejected, for every file. A row is rejected as a whole: it has no record id,
repeats another row, or belongs to no newborn of the export. Values are never a reason; they
are judged later, one by one.
"""

import duckdb

from pipelines.base.sql import quote
from pipelines.definitions.unit_takes import Take
from pipelines.stages.raw.export_text import folded, recorded_text
from pipelines.stages.raw.raw_file import RawFile


def create_raw_tables(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute(
        """
        create or replace table raw.rejected (
            unit varchar, file_index integer, source_file varchar, source_line bigint,
            line_in_file bigint, reason varchar
        );
        create or replace table raw.record (
            unit varchar, record_id varchar, file_index integer, source_line bigint,
            has_conflict boolean, is_repeated boolean
        );
        """
    )


def record_id(raw: RawFile, take: Take) -> str:
    return recorded_text(raw, take.sources["record_id"])


def is_admission_file(raw: RawFile) -> bool:
    return any(take.table == "admission" for take in raw.spec.takes)


def _reject(connection: duckdb.DuckDBPyConnection, raw: RawFile, select: str) -> None:
    """Insert (source_line, reason) rows of ``select`` that are not rejected already."""
    connection.execute(
        f"""
        insert into raw.rejected
        select {quote(raw.unit.id)}, {raw.index}, {raw.name_of("found.source_line")},
            found.source_line, {raw.line_of("found.source_line")}, found.reason
        from ({select}) as found
        where not exists (
            select 1 from raw.rejected as known
            where known.file_index = {raw.index} and known.source_line = found.source_line
        )
        """
    )


def reject_unusable_rows(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Reject ragged rows and rows without a record id."""
    if raw.ragged:
        listed = ", ".join(f"({line}, {quote(reason)})" for line, reason in raw.ragged)
        _reject(connection, raw, f"select * from (values {listed}) as v (source_line, reason)")
    text = record_id(raw, raw.spec.takes[0])
    _reject(
        connection,
        raw,
        f"select source_line, 'no record id' as reason from {raw.table} where {text} is null",
    )


def row_content(raw: RawFile) -> str:
    """Return as one text what a row says in the mapped columns, blind to case and stray spaces.

    A print counter or a comment that nobody maps does not make two rows different. The text
    itself is compared: DuckDB's hash (2.0.1) is the same for some texts that differ.
    """
    named = (raw.column(local) for local in raw.spec.local_columns)
    cells = ", ".join(f"lower(trim(coalesce({name}, '')))" for name in named if name is not None)
    return f"concat_ws(chr(31), {cells})"


def keep_first_records(connection: duckdb.DuckDBPyConnection, files: list[RawFile]) -> None:
    """Fill ``raw.record`` from the admission files; reject each later row of a record.

    The first row in file order is kept. Which of two contradicting rows is true cannot be
    known here, so the kept one is marked and the other stays readable in the export.
    """
    parts = [
        f"""
        select {raw.index} as file_index, source_line, {row_content(raw)} as content,
            {record_id(raw, raw.spec.takes[0])} as record_id,
            {raw.name_of("source_line")} as source_file,
            {raw.line_of("source_line")} as line_in_file
        from {raw.table} as file
        where not exists (
            select 1 from raw.rejected as known
            where known.file_index = {raw.index} and known.source_line = file.source_line
        )
        """
        for raw in files
    ]
    unit = quote(files[0].unit.id)
    connection.execute(
        f"""
        create or replace temp table numbered as
        with every_row as ({" union all ".join(parts)})
        select *,
            row_number() over newborn as place,
            first_value(content) over newborn as first_content,
            first_value(source_file) over newborn as first_file,
            first_value(line_in_file) over newborn as first_line,
        from every_row
        window newborn as (partition by record_id order by file_index, source_line)
        """
    )
    connection.execute(
        f"""
        insert into raw.record
        select {unit}, record_id, any_value(file_index) filter (place = 1),
            any_value(source_line) filter (place = 1),
            bool_or(content <> first_content), count(*) > 1
        from numbered group by record_id
        """
    )
    for raw in files:
        _reject(
            connection,
            raw,
            f"""
            select source_line, 'repeats the record of ' || first_file || ' line ' || first_line
                || if(content = first_content, ' exactly', ' with other values; the first is kept')
                as reason
            from numbered where place > 1 and file_index = {raw.index}
            """,
        )
    connection.execute("drop table numbered")


def reject_orphans(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Reject rows of an event file that belong to no kept record, or are on the ignored list."""
    text = record_id(raw, raw.spec.takes[0])
    _reject(
        connection,
        raw,
        f"""
        select source_line, 'no newborn with this record id in the admission export' as reason
        from {raw.table}
        where {text} is not null and {text} not in (
            select record_id from raw.record where unit = {quote(raw.unit.id)}
        )
        """,
    )
    _reject_ignored(connection, raw)


def reject_repeats(connection: duckdb.DuckDBPyConnection, files: list[RawFile]) -> None:
    """Reject each later row that says exactly what an earlier one said, in ``files`` of a pattern.

    Monthly exports often overlap; one reading in two files is one reading. Entries with ids of
    their own are told apart by those.
    """
    files = [raw for raw in files if not raw.has_ids]
    if not files:
        return
    rows = " union all ".join(
        f"select {raw.index} as file_index, source_line, {raw.name_of('source_line')} as "
        f"source_file, {raw.line_of('source_line')} as line_in_file, {row_content(raw)} as content "
        f"from {raw.table}"
        for raw in files
    )
    # Most rows are told apart by eight bytes; only those that are not compare their texts.
    connection.execute(
        f"""
        create or replace temp table repeated as
        with every_row as ({rows}),
        alike as (select hash(content) as mark from every_row group by mark having count(*) > 1),
        twice as (
            select content,
                min((file_index, source_line, source_file, line_in_file)) as first_row
            from every_row where hash(content) in (select mark from alike)
            group by content having count(*) > 1
        )
        select file_index, source_line, 'repeats ' || first_row[3] || ' line ' || first_row[4]
            || ' exactly' as reason
        from every_row
        inner join twice using (content)
        where (file_index, source_line) > (first_row[1], first_row[2])
        """
    )
    for raw in files:
        _reject(
            connection,
            raw,
            f"select source_line, reason from repeated where file_index = {raw.index}",
        )
    connection.execute("drop table repeated")


def _reject_ignored(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Set aside rows whose item the unit file lists under [ignored]."""
    for take in raw.spec.takes:
        items = raw.unit.ignored.get(take.table, ())
        if items and "kind" in take.sources:
            listed = ", ".join(folded(item) for item in items)
            text = recorded_text(raw, take.sources["kind"])
            _reject(
                connection,
                raw,
                f"select source_line, 'item on the unit''s ignored list' as reason "
                f"from {raw.table} where lower({text}) in ({listed})",
            )
