"""The measures engine: from the facts a measure's select gives to one state per row.

``states`` says how, ``counting`` counts the states. Measure by measure is the plain way, which
examples and large stores go; where there are few rows, several measures are one statement.
"""

from collections.abc import Callable, Mapping, Sequence

import duckdb

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.sql import fixed_sql
from pipelines.definitions.policy import InForce
from pipelines.definitions.read_measures import ITEM_KINDS, Band, Measure
from pipelines.stages.measure.counting import add_cells, add_spread, place_newborns
from pipelines.stages.measure.settings import setting as setting_of
from pipelines.stages.measure.states import FACTS, Together, states_of_one

# Few newborns: many measures are counted in one statement. Many: one measure, or two, at a time.
_ROWS_AT_ONCE = 200_000
# Newborns up to which so many measures are stated in one statement. Planning is most of the time
# of a small store, and planned together they take a third less; a large one is bounded by memory.
_TOGETHER = ((2_000, 24), (50_000, 4))
# What the selects of this process gave: the columns of mart are the contract's, and stay.
_GIVEN: dict[tuple[str, ...], list[str]] = {}


def create_measure_tables(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute("create schema if not exists measure")
    connection.execute(fixed_sql("stages/measure/tables"))


def _facts_given(
    connection: duckdb.DuckDBPyConnection, measure: Measure, setting: str
) -> list[str]:
    """Return the facts that the measure's select gives, or say which column is not one.

    ``setting``: the select that it reads under that name.
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
    return given


def _facts(measure: Measure, given: Sequence[str]) -> str:
    """Return the measure's select with every fact present. Who runs it puts ``setting`` before."""
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
            described = connection.execute(
                f"describe with setting as ({setting}) select * from ({measure.sql})"
            )
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
    numbers = setting_of(policies[measure.id], measure)
    facts = _facts(measure, _facts_given(connection, measure, numbers))
    setting = f"setting as not materialized ({numbers})"
    if measure.bands:  # only the facts of several bands are read more than once
        connection.execute(f"create or replace temp table fact as with {setting} {facts}")
        facts = "from fact"
    bands: Sequence[Band | None] = measure.bands or (None,)
    rows = 0
    for measure_id, band in zip(measure.result_ids, bands, strict=True):
        added = connection.execute(
            f"insert into stated with {setting}, facts as not materialized ({facts}), "
            f"{states_of_one(measure, measure_id, band)}"
        ).fetchone()
        rows += int(added[0]) if added else 0
    return rows


def _state_together(
    connection: duckdb.DuckDBPyConnection, policies: InForce, measures: Sequence[Measure]
) -> int:
    """Add the rows of several measures to ``stated`` in one statement; count them."""
    together = Together()
    for measure in measures:
        policy = policies[measure.id]
        given = _facts_given(connection, measure, setting_of(policy, measure))
        together.add(measure, policy, given)
    added = connection.execute(f"insert into stated {together.states()}").fetchone()
    return int(added[0]) if added else 0


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
    every, at_once = list(measures.values()), _at_once(connection)
    for start in range(0, len(every), at_once):
        lot = every[start : start + at_once]
        for measure in lot:
            progress(measure.text("title"))
        if len(lot) == 1:
            rows += _state(connection, policies, lot[0])
        else:
            rows += _state_together(connection, policies, lot)
        waiting += lot
        if rows >= _ROWS_AT_ONCE:
            _keep_and_count(connection, waiting)
            rows, waiting = 0, []
    _keep_and_count(connection, waiting)


def _at_once(connection: duckdb.DuckDBPyConnection) -> int:
    """Return how many measures are stated in one statement."""
    row = connection.execute("select count(*) from mart.newborn").fetchone()
    newborns = int(row[0]) if row else 0
    return next((lot for most, lot in _TOGETHER if newborns <= most), 1)


def _keep_and_count(connection: duckdb.DuckDBPyConnection, measures: Sequence[Measure]) -> None:
    _keep(connection, measures)
    add_cells(connection)
    for measure in measures:
        if measure.kind == "minutes":
            add_spread(connection, measure.id)
    _state_nothing(connection)
