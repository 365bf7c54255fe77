"""Checks that follow from the contract alone: nobody writes these by hand.

| rule_id | severity | what |
|---|---|---|
| ``outside_limits`` | error | beyond the error limits of the column or kind |
| ``unusual`` | query | beyond the query limits, within the error limits |
| ``unreadable`` | error | the text does not fit the type |
| ``not_on_list`` | query | a code on no recode list |
| ``before_birth`` | error | a time before birth, where none can be |
| ``perhaps_before_birth`` | query | in the day before birth, where it can be true, or a slip |
| ``after_leaving`` | query | an event after the newborn left (many: see rule ``left_too_early``) |
| ``missing_column`` | error if required, else query | the unit maps it, the export has it not |
| ``empty_column`` | error if required, else note | in no row of a file |
| ``conflicting_duplicate`` | query | the record stood twice, with other values |
"""

from collections.abc import Iterator

from expectations.check import Check
from pipelines.definitions.read_contract import Column, Limits, Table

CONTRACT_RULES = (
    "outside_limits",
    "unusual",
    "unreadable",
    "not_on_list",
    "before_birth",
    "perhaps_before_birth",
    "after_leaving",
    "missing_column",
    "empty_column",
    "conflicting_duplicate",
)


def causes(table: Table, has_duplicates: bool) -> Iterator[Check]:
    """Yield the checks that name a cause: text, code, time, whole column, repeated record."""
    if has_duplicates:
        yield _conflicting_duplicate(table)
    yield _missing_column(table)
    yield _empty_column(table)
    for column in table.columns.values():
        # A recode may stand before a column of any type, so each column can have either misfit.
        if column.type not in {"text", "category", "code"}:
            yield _unreadable(table, column)
        if column.type not in {"text", "category", "instant"}:
            yield _not_on_list(table, column)
        if column.type == "minutes" and not column.before_birth:
            yield _before_birth(table, column)
            if column.before_birth_within or column.before_birth_statuses:
                yield _perhaps_before_birth(table, column)
    if table.is_event:
        yield _after_leaving(table)


def limits(table: Table) -> Iterator[Check]:
    """Yield the checks that only say a value lies outside; they run after all others.

    "Unusual" follows "outside limits" and gives way to it, so no cell has both.
    """
    for column in table.stored_columns:
        yield from _outside(table, column, column.limits, column.unit)
        if column.name == "value":
            for kind in table.kinds.values():
                yield from _outside(table, column, kind.limits, kind.unit, kind.name)


def _outside(
    table: Table, column: Column, bounds: Limits, unit: str | None, kind: str | None = None
) -> Iterator[Check]:
    of = "" if kind is None else f"kind = '{kind}' and "
    error = _beyond(column.name, bounds.error_below, bounds.error_above)
    query = _beyond(column.name, bounds.query_below, bounds.query_above)
    name = kind or column.name
    if error is not None:
        span = _span(bounds.error_below, bounds.error_above, unit)
        yield Check(
            "outside_limits",
            table.name,
            f"{name} is outside {span}",
            "error",
            f"Outside {span}: such a value is not possible, so it is not used.",
            f"select row_id, '{column.name}' as column_name from typed.{table.name} "
            f"where {of}({error})",
            column=column.name,
            kind=kind,
            gives_way_to_causes=True,
        )
    if query is not None:
        span = _span(bounds.query_below, bounds.query_above, unit)
        yield Check(
            "unusual",
            table.name,
            f"{name} is outside {span}",
            "query",
            f"Outside {span}: possible, but rare. Check it in the chart; it is kept and used.",
            f"select row_id, '{column.name}' as column_name from typed.{table.name} "
            f"where {of}({query})",
            column=column.name,
            kind=kind,
            gives_way_to_causes=True,
        )


def _beyond(name: str, below: float | None, above: float | None) -> str | None:
    parts = [f"{name} < {below!r}"] if below is not None else []
    parts += [f"{name} > {above!r}"] if above is not None else []
    return " or ".join(parts) or None


def _span(below: float | None, above: float | None, unit: str | None) -> str:
    """Return the limits in words: "200 to 8200 g", "at least 0 mg/dL".

    Units of the contract are UCUM codes; two of them read better as people write them.
    """
    written = {"Cel": " °C", "{score}": "", "d": " days", None: ""}.get(unit, f" {unit}")
    if below is None:
        return f"at most {above:g}{written}"
    if above is None:
        return f"at least {below:g}{written}"
    return f"{below:g} to {above:g}{written}"


def _misfit(table: Table, column: Column, misfit: str) -> str:
    return (
        f"select row_id, column_name from misfit where misfit = '{misfit}' "
        f"and table_name = '{table.name}' and column_name = '{column.name}'"
    )


def _unreadable(table: Table, column: Column) -> Check:
    wanted = {
        "integer": "a whole number",
        "decimal": "a number",
        "boolean": "yes or no",
        "month": "a month such as 2025-03",
    }.get(column.type, "a time in the form the unit file gives")
    return Check(
        "unreadable",
        table.name,
        f"{column.name} cannot be read",
        "error",
        f"The text is not {wanted}, so it is not used.",
        f"""
        select
            misfit.row_id,
            misfit.column_name,
            reading.cause || '. It is not read so, and not used: correct it in the chart or in the '
                || 'export.' as explanation,
            reading.suggestion,
        from ({_misfit(table, column, "unreadable")}) as misfit
        left join text_reading as reading
            on reading.table_name = '{table.name}'
            and reading.row_id = misfit.row_id
            and reading.column_name = misfit.column_name
        """,
        column=column.name,
    )


def _not_on_list(table: Table, column: Column) -> Check:
    return Check(
        "not_on_list",
        table.name,
        f"{column.name} is on no list of the unit file",
        "query",
        "This word is on no recode list of the unit file, so its meaning is not known.",
        f"select *, 'Add the word to the recode list of the unit file.' as suggestion "
        f"from ({_misfit(table, column, 'unmapped')})",
        column=column.name,
    )


def _before_birth(table: Table, column: Column) -> Check:
    name = column.name
    may_precede = ", ".join(f"'{kind}'" for kind in column.before_birth_kinds)
    where = f"{name} < 0" + (
        f" and coalesce(kind not in ({may_precede}), true)" if may_precede else ""
    )
    where += f" and not ({_may_be_true(column)})"
    return Check(
        "before_birth",
        table.name,
        f"{name} is before birth",
        "error",
        "The time is before birth: a date one day early around midnight, a 12-hour clock "
        "read as 24 hours, or a wrong birth time.",
        f"""
        select
            row.row_id,
            '{name}' as column_name,
            case
                when {name} + 525600 between 0 and 43200
                then 'If the year is one too early: ' || {_minutes_words(f"{name} + 525600")} || '.'
                when {name} < -1440 then 'Check the date and the birth time.'
                else concat(
                    if(
                        {name} >= -60 and clock.is_clock_put_back,
                        'The clock was put back that night: if this is the later of the two hours, '
                            || {_minutes_words(f"{name} + 60")} || '. ',
                        ''
                    ),
                    'If the date is one day early: ',
                    {_minutes_words(f"{name} + 1440")},
                    if(
                        {name} >= -720,
                        '; if morning was charted for afternoon: '
                            || {_minutes_words(f"{name} + 720")},
                        ''
                    ),
                    '.'
                )
            end as suggestion,
        from typed.{table.name} as row
        left join birth_clock as clock using (newborn_id)
        where {where}
        """,
        column=name,
    )


def _may_be_true(column: Column) -> str:
    """Return the condition under which a time before birth is a true event of its kind."""
    words = {"kind": column.before_birth_within, "status": column.before_birth_statuses}
    said = [
        f"coalesce({of} = '{word}' and {column.name} >= -{most:g}, false)"
        for of, each in words.items()
        for word, most in each.items()
    ]
    return " or ".join(said) or "false"


def _perhaps_before_birth(table: Table, column: Column) -> Check:
    """Ask in the last day before birth alone: a slip of half a day or a day lies there."""
    name = column.name
    return Check(
        "perhaps_before_birth",
        table.name,
        f"{name} is shortly before birth, and it may be so",
        "query",
        "The time is shortly before birth. It can be true of this entry, and it can be a slip: a "
        "date one day early, a 12-hour clock read as 24 hours. Check it.",
        f"""
        select row_id, '{name}' as column_name, null as suggestion
        from typed.{table.name}
        where {name} < 0 and {name} >= -1440 and ({_may_be_true(column)})
        """,
        column=name,
    )


def _minutes_words(minutes: str) -> str:
    return f"cast(round({minutes}) as integer) || ' min after birth'"


def _after_leaving(table: Table) -> Check:
    return Check(
        "after_leaving",
        table.name,
        f"no entry of {table.title.lower()} is later than the newborn left",
        "query",
        "The time is after the newborn left the unit: a wrong date or time, an entry on the wrong "
        "record, or a wrong time of leaving. Check both.",
        f"""
        select
            row_id,
            'minutes' as column_name,
            earlier_fits(minutes, 0, discharge_minutes) as suggestion,
        from after_leaving
        where table_name = '{table.name}' and not is_leaving_doubtful
        """,
        column="minutes",
    )


def _required(table: Table) -> str:
    names = [f"'{column.name}'" for column in table.columns.values() if column.required]
    return ", ".join(names)


def _missing_column(table: Table) -> Check:
    return Check(
        "missing_column",
        table.name,
        f"every mapped column of {table.title.lower()} is in the export",
        "error",
        "The unit file maps this column, but the export file has no such column.",
        f"""
        select distinct
            unit,
            source_file,
            column_name,
            if(column_name in ({_required(table)}), 'error', 'query') as severity,
            'Expected the column ''' || local_column || '''; ask for it in the export or correct '
                || 'the unit file.' as suggestion,
        from typed.column_source
        where table_name = '{table.name}' and not is_present
        """,
        is_whole_column=True,
    )


def _empty_column(table: Table) -> Check:
    names = [column.name for column in table.stored_columns]
    counts = ", ".join(f"count({name}) as {name}" for name in names)
    return Check(
        "empty_column",
        table.name,
        f"no mapped column of {table.title.lower()} is empty throughout",
        "note",
        "The export file has this column, but it is empty in every row.",
        f"""
        with filled as (
            select unit, source_file, {counts}
            from typed.{table.name}
            group by unit, source_file
        ),

        filled_by_column as (
            unpivot filled on {", ".join(names)} into name column_name value filled
        ),

        tried as (  -- text that could not be read is not empty
            select distinct row.unit, row.source_file, misfit.column_name
            from misfit
            inner join typed.{table.name} as row using (row_id)
            where misfit.table_name = '{table.name}'
        )

        select distinct
            source.unit,
            source.source_file,
            source.column_name,
            if(source.column_name in ({_required(table)}), 'error', 'note') as severity,
        from typed.column_source as source
        inner join filled_by_column using (unit, source_file, column_name)
        anti join tried using (unit, source_file, column_name)
        where source.table_name = '{table.name}' and source.is_present and filled = 0
        """,
        is_whole_column=True,
    )


def _conflicting_duplicate(table: Table) -> Check:
    return Check(
        "conflicting_duplicate",
        table.name,
        f"no {table.title.lower()} record stands twice with different values",
        "query",
        "The record stands more than once in the export, with different values. The first row "
        "is kept; which one is true cannot be known here.",
        f"""
        select row_id, 'record_id' as column_name
        from typed.duplicate
        where table_name = '{table.name}' and is_conflicting
        """,
        column="record_id",
    )
