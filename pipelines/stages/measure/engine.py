"""The measures engine: from the facts a measure's select gives to one state per row.

Only here is a state derived, so that nulls and the order of exclusion, exception and missing
are right once, for all measures. ``counting`` counts the states.
"""

from collections.abc import Callable, Mapping, Sequence

import duckdb

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.sql import fixed_sql, quote
from pipelines.definitions.read_measures import ITEM_KINDS, STANDARD_EXCLUSIONS, Band, Measure
from pipelines.definitions.read_units import Unit
from pipelines.stages.measure.counting import add_cells, add_spread, place_newborns, write_results
from pipelines.stages.measure.settings import create_setting

FACTS = {
    "newborn_id": None,
    "item": "cast(1 as integer)",
    "exclusion": "cast(null as varchar)",
    "exception": "cast(null as varchar)",
    "not_done_reason": "cast(null as varchar)",
    "is_documented": None,
    "is_usable": None,
    "minutes": "cast(null as double)",
    "due_minutes": "cast(null as double)",
    "closes_minutes": "cast(null as double)",
    "is_met": "cast(null as boolean)",
    "value": "cast(null as double)",
}
_NEVER = 1e12
_NOT_APPLICABLE = "not applicable by policy"


def create_measure_tables(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute("create schema if not exists measure")
    connection.execute(fixed_sql("stages/measure/tables"))


def _facts(connection: duckdb.DuckDBPyConnection, measure: Measure) -> str:
    """Return the measure's select with every fact present, or say which column is not one.

    Raises DeclarationError naming the file and the column, or DuckDB's own words on the SQL.
    """
    try:
        given = [row[0] for row in connection.execute(f"describe {measure.sql}").fetchall()]
    except duckdb.Error as error:
        first = str(error).strip().splitlines()[0]
        raise DeclarationError(f"{measure.where}: the select does not run: {first}") from None
    for name in given:
        if name not in FACTS:
            raise DeclarationError(
                f"{measure.where}: column '{name}' is not a fact.{nearest(name, FACTS)}"
            )
    for name, default in FACTS.items():
        if default is None and name not in given:
            raise DeclarationError(f"{measure.where}: the select must give '{name}'.")
    _check_facts(measure, given)
    filled = ", ".join(
        f"facts.{name}" if name in given else f"{default} as {name}"
        for name, default in FACTS.items()
    )
    return f"select {filled}, {'true' if 'is_met' in given else 'false'} as says_met " + (
        f"from ({measure.sql}) as facts"
    )


def _check_facts(measure: Measure, given: Sequence[str]) -> None:
    """The facts must fit the kind: what says that it was met, and what numbers its rows."""
    has_edge = "due_minutes" in given or "at_most" in measure.window
    needed = {"bands": ["value"], "minutes": ["minutes"]}.get(measure.kind, [])
    if measure.kind in ITEM_KINDS:
        needed = [*needed, "item"]
    for name in needed:
        if name not in given:
            raise DeclarationError(
                f"{measure.where}: kind = '{measure.kind}' needs the column '{name}' in the select."
            )
    if measure.kind in {"bands", "minutes"}:
        if "is_met" in given:
            raise DeclarationError(
                f"{measure.where}: is_met: kind = '{measure.kind}' says itself when it is met."
            )
    elif "is_met" not in given and not has_edge:
        raise DeclarationError(
            f"{measure.where}: say when it is met: a window in the header, or due_minutes or "
            "is_met in the select."
        )


def _exclusion(measure: Measure) -> str:
    """Return the standard exclusions that hold before the window closes, first match wins."""
    whens = []
    for name in measure.exclude:
        minute, words = STANDARD_EXCLUSIONS[name]
        whens.append(f"when {minute} < closes then {quote(words)}")
    return f"case {' '.join(whens)} end" if whens else "cast(null as varchar)"


def _met(measure: Measure, band: Band | None) -> str:
    if measure.kind == "minutes":
        return "minutes is not null"
    if band is None:
        return (
            "case when says_met then coalesce(is_met, false) "
            "else coalesce(minutes >= coalesce(at_least, 0) and minutes <= due, false) end"
        )
    low = f"value >= {band.at_least!r}" if band.at_least is not None else "true"
    high = f"value < {band.below!r}" if band.below is not None else "true"
    return f"coalesce({low} and {high}, false)"


def _states(measure: Measure, band: Band | None) -> str:
    """Return the query that derives one state per newborn and item. The only place it is done."""
    return f"""
    with known as (
        select
            facts.*,
            setting.at_least,
            setting.applies,
            coalesce(facts.due_minutes, setting.at_most) as due,
            coalesce(facts.closes_minutes, facts.due_minutes, setting.at_most, {_NEVER}) as closes,
        from facts
        inner join setting using (newborn_id)
    ),
    placed as (
        select
            newborn.newborn_id,
            known.item,
            known.minutes,
            if(known.says_met, null, known.due) as due_minutes,
            known.not_done_reason,
            known.exception,
            coalesce(known.is_documented, false) as is_documented,
            coalesce(known.is_usable, false) as is_usable,
            if(
                known.applies,
                coalesce(known.exclusion, {_exclusion(measure)}),
                {quote(_NOT_APPLICABLE)}
            ) as exclusion,
            {_met(measure, band)} as in_numerator,
            known.minutes > known.due and not known.says_met as is_late,
        from known
        inner join mart.newborn as newborn using (newborn_id)
    )
    select
        newborn_id,
        item,
        cast(case
            when exclusion is not null then 'exclusion'
            when is_documented and is_usable and in_numerator then 'met'
            when exception is not null then 'exception'
            when not_done_reason is not null then 'not_done'
            when not is_documented then 'not_documented'
            when not is_usable then 'unusable'
            when is_late then 'late'
            else 'not_met'
        end as measure.state_name) as state,
        if(state = 'exclusion', null, minutes) as minutes,
        due_minutes,
        case state
            when 'exclusion' then exclusion
            when 'exception' then exception
            when 'not_done' then not_done_reason
        end as reason,
    from placed
    """


def run_measure(
    connection: duckdb.DuckDBPyConnection,
    units: Sequence[Unit],
    measure: Measure,
    count: Callable[[Measure, str], None] = lambda _measure, _id: None,
) -> None:
    """Insert the membership of one measure (of each band) into ``measure.membership``.

    ``count`` is called for each measure id while its rows alone stand in the temporary table
    ``stated``. Raises DeclarationError where the select does not fit, or gives a newborn twice.
    """
    create_setting(connection, units, measure)
    # Only the facts of several bands are read more than once.
    relation = "table" if measure.bands else "view"
    connection.execute(f"create or replace temp {relation} facts as {_facts(connection, measure)}")
    bands: Sequence[Band | None] = measure.bands or (None,)
    for measure_id, band in zip(measure.result_ids, bands, strict=True):
        connection.execute(f"create or replace temp table stated as {_states(measure, band)}")
        _check_grain(connection, measure)
        connection.execute(
            f"insert into measure.membership select newborn_id, {quote(measure_id)}, "
            "item, state, minutes, due_minutes, reason from stated"
        )
        count(measure, measure_id)
    connection.execute(f"drop {relation} facts; drop table stated")


def _check_grain(connection: duckdb.DuckDBPyConnection, measure: Measure) -> None:
    key = "newborn_id::bigint * 4294967296 + item"
    row = connection.execute(f"select count(*) - count(distinct {key}) from stated").fetchone()
    if row and row[0]:
        raise DeclarationError(
            f"{measure.where}: {row[0]} rows repeat a newborn and item; "
            "group by newborn_id, or number the rows of one newborn in 'item'."
        )


def run_measures(
    connection: duckdb.DuckDBPyConnection,
    units: Sequence[Unit],
    measures: Mapping[str, Measure],
    progress: Callable[[str], None] = lambda _: None,
) -> None:
    """Fill ``measure.membership``, ``measure.result`` and ``measure.spread`` for every measure.

    The measure tables must be there and described (``catalogue.describe_store``). The counts
    stay behind in the temporary table ``cell``.
    """
    place_newborns(connection)

    def count(measure: Measure, measure_id: str) -> None:
        add_cells(connection, measure_id, "select newborn_id, state from stated")
        if measure.kind == "minutes":
            add_spread(connection, measure_id, "select newborn_id, state, minutes from stated")

    for measure in measures.values():
        progress(measure.text("title"))
        run_measure(connection, units, measure, count)
    write_results(connection)
