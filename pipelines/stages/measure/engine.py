"""The measures engine: from the facts a measure's select gives to one state per row.

Only here is a state derived, so that nulls and the order of exclusion, exception and missing
are right once, for all measures. ``counting`` counts the states.
"""

from collections.abc import Callable, Mapping, Sequence

import duckdb

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.sql import fixed_sql, quote
from pipelines.definitions.owners import When, exceptions, exclusions
from pipelines.definitions.policy import InForce
from pipelines.definitions.read_measures import ITEM_KINDS, Band, Measure
from pipelines.stages.measure.counting import add_cells, add_spread, place_newborns
from pipelines.stages.measure.settings import setting as setting_of

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
    # When the record had settled it either way: a later move, death or cooling changes nothing.
    "judged_minutes": "cast(null as double)",
    "is_met": "cast(null as boolean)",
    "value": "cast(null as double)",
    # For the worklist, which says how far out a reading is: when it was read and what it was held
    # against; what the row is of; and the grade by which the header's gravity tells rows apart.
    "value_minutes": "cast(null as double)",
    "edge": "cast(null as double)",
    "grade": "cast(null as varchar)",
    "detail": "cast(null as varchar)",
}
_NEVER = 1e12
# Few newborns: many measures are counted in one statement. Many: one measure, or two, at a time.
_ROWS_AT_ONCE = 200_000
# What the selects of this process gave: the columns of mart are the contract's, and stay.
_GIVEN: dict[tuple[str, ...], list[str]] = {}
_NOT_APPLICABLE = "not applicable by policy"


def create_measure_tables(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute("create schema if not exists measure")
    connection.execute(fixed_sql("stages/measure/tables"))


def _facts(connection: duckdb.DuckDBPyConnection, measure: Measure, setting: str) -> str:
    """Return the measure's select with every fact present, or say which column is not one.

    It reads ``setting``, whose select is given, and which who runs it must put before it.

    Raises DeclarationError naming the file and the column, or DuckDB's own words on the SQL.
    """
    given = _given(connection, measure, setting)
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


def _given(connection: duckdb.DuckDBPyConnection, measure: Measure, setting: str) -> list[str]:
    key = (measure.sql, *measure.numbers)
    if key not in _GIVEN:
        try:
            described = connection.execute(f"describe with {setting} select * from ({measure.sql})")
        except duckdb.Error as error:
            first = str(error).strip().splitlines()[0]
            raise DeclarationError(f"{measure.where}: the select does not run: {first}") from None
        _GIVEN[key] = [row[0] for row in described.fetchall()]
    return _GIVEN[key]


def _check_facts(measure: Measure, given: Sequence[str]) -> None:
    """The facts must fit the kind: what says that it was met, and what numbers its rows."""
    has_edge = "due_minutes" in given or "at_most" in measure.window
    if measure.gravity.grades and "grade" not in given:
        raise DeclarationError(
            f"{measure.where}: [gravity.grades] tells rows apart by 'grade', which the select "
            "does not give."
        )
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


def _first_of(whens: Sequence[When]) -> str:
    """Return the reason of the first that holds, in SQL."""
    cases = " ".join(f"when {holds} then {quote(reason)}" for holds, reason in whens)
    return f"case {cases} end" if whens else "cast(null as varchar)"


def _set_apart(measure: Measure) -> str:
    """Return why the newborn is none of this measure's, in SQL: by its owner and its way."""
    has_arrival = "arrived_before" in measure.numbers
    return _first_of(exclusions(measure.text("owner"), measure.exclude, has_arrival))


def _ended(measure: Measure) -> str:
    """Return what ended an event that was not met, in SQL."""
    return _first_of(exceptions(measure.text("owner"), measure.going_home))


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


def _edge(measure: Measure) -> str:
    """Return the edge that a value is held against: of bands, where the last of them ends."""
    ends = [band.below for band in measure.bands]
    known = [end for end in ends if end is not None]
    return repr(max(known)) if known and len(known) == len(ends) else "known.edge"


def _states(measure: Measure, measure_id: str, band: Band | None) -> str:
    """Return the query that derives one state per newborn and item. The only place it is done.

    It reads ``facts`` and ``setting``, and goes on with what stands after ``with``.
    """
    return f"""
    known as (
        select
            facts.*,
            setting.at_least,
            setting.applies,
            {"setting.arrived_before," if "arrived_before" in measure.numbers else ""}
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
            coalesce(known.is_documented, false) as has_row,
            coalesce(known.is_usable, false) as can_be_used,
            {_met(measure, band)} as in_numerator,
            coalesce(
                known.judged_minutes,
                if(has_row and can_be_used and in_numerator, coalesce(known.minutes, 0), null)
            ) as judged,
            if(
                known.applies,
                coalesce(known.exclusion, {_set_apart(measure)}),
                {quote(_NOT_APPLICABLE)}
            ) as exclusion,
            coalesce(known.exception, {_ended(measure)}) as exception,
            known.minutes > known.due and not known.says_met as is_late,
            known.grade,
            known.detail,
            known.value,
            coalesce(known.value_minutes, known.minutes) as value_minutes,
            {_edge(measure)} as edge,
        from known
        inner join mart.newborn as newborn using (newborn_id)
        inner join mart.way as way using (newborn_id)
    )
    select
        {quote(measure_id)} as measure_id,
        newborn_id,
        item,
        cast(case
            when exclusion is not null then 'exclusion'
            when has_row and can_be_used and in_numerator then 'met'
            when exception is not null then 'exception'
            when not_done_reason is not null then 'not_done'
            when not has_row then 'not_documented'
            when not can_be_used then 'unusable'
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
        grade,
        if(state = 'exclusion', null, value) as value,
        if(state = 'exclusion' or value is null, null, value_minutes) as value_minutes,
        if(state = 'exclusion' or value is null, null, edge) as edge,
        if(state in ('met', 'exclusion'), null, detail) as detail,
    from placed
    """


def run_measure(connection: duckdb.DuckDBPyConnection, policies: InForce, measure: Measure) -> None:
    """Insert the membership of one measure (of each band) into ``measure.membership``.

    Raises DeclarationError where the select does not fit, or gives a newborn twice.
    """
    _state_nothing(connection)
    _state(connection, policies, measure)
    _keep(connection, [measure])


def _state_nothing(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute(
        "create or replace temp table stated (measure_id varchar, newborn_id integer, "
        "item integer, state measure.state_name, minutes double, due_minutes double, "
        "reason varchar, grade varchar, value double, value_minutes double, edge double, "
        "detail varchar)"
    )


def _state(connection: duckdb.DuckDBPyConnection, policies: InForce, measure: Measure) -> int:
    """Add the rows of one measure (of each band) to the temporary table ``stated``; count them."""
    # In one statement with what reads them, setting and facts are planned once, not three times.
    setting = f"setting as not materialized ({setting_of(policies[measure.id], measure)})"
    facts = _facts(connection, measure, setting)
    if measure.bands:  # only the facts of several bands are read more than once
        connection.execute(f"create or replace temp table fact as with {setting} {facts}")
        facts = "from fact"
    bands: Sequence[Band | None] = measure.bands or (None,)
    rows = 0
    for measure_id, band in zip(measure.result_ids, bands, strict=True):
        added = connection.execute(
            f"insert into stated with {setting}, facts as not materialized ({facts}), "
            f"{_states(measure, measure_id, band)}"
        ).fetchone()
        rows += int(added[0]) if added else 0
    return rows


def _keep(connection: duckdb.DuckDBPyConnection, measures: Sequence[Measure]) -> None:
    """Put ``stated`` into ``measure.membership``, but for the newborns' second rows.

    Those have a newborn_id below nought: see ``as_recorded``.
    """
    _check_grain(connection, measures)
    connection.execute(
        "insert into measure.membership select newborn_id, measure_id, item, state, minutes, "
        "due_minutes, reason, grade, value, value_minutes, edge, detail from stated "
        "where newborn_id > 0"
    )


def _check_grain(connection: duckdb.DuckDBPyConnection, measures: Sequence[Measure]) -> None:
    key = "newborn_id::bigint * 4294967296 + item"
    row = connection.execute(
        f"select measure_id, count(*) - count(distinct {key}) as repeated from stated "
        "group by measure_id having repeated > 0 order by measure_id"
    ).fetchone()
    if row is None:
        return
    where = next(measure.where for measure in measures if row[0] in measure.result_ids)
    raise DeclarationError(
        f"{where}: {row[1]} rows repeat a newborn and item; "
        "group by newborn_id, or number the rows of one newborn in 'item'."
    )


def run_measures(
    connection: duckdb.DuckDBPyConnection,
    policies: InForce,
    measures: Mapping[str, Measure],
    progress: Callable[[str], None] = lambda _: None,
) -> None:
    """Fill ``measure.membership`` and ``measure.spread`` for every measure.

    The measure tables must be there. The counts stay behind in temporary tables, from which
    ``counting.write_results`` makes ``measure.result``.
    """
    place_newborns(connection)
    _state_nothing(connection)
    rows, waiting = 0, list[Measure]()
    for measure in measures.values():
        progress(measure.text("title"))
        rows += _state(connection, policies, measure)
        waiting.append(measure)
        if rows >= _ROWS_AT_ONCE:
            _keep_and_count(connection, waiting)
            rows, waiting = 0, []
    _keep_and_count(connection, waiting)


def _keep_and_count(connection: duckdb.DuckDBPyConnection, measures: Sequence[Measure]) -> None:
    _keep(connection, measures)
    add_cells(connection)
    for measure in measures:
        if measure.kind == "minutes":
            add_spread(connection, measure.id)
    _state_nothing(connection)
