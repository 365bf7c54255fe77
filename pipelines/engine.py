"""The measures engine: from facts to states, and from states to counts, rates and bounds.

A measure's select says facts about each newborn; only here is a state derived and counted, so
that nulls, empty months and numerator within denominator are right once, for all measures.
"""

from collections.abc import Callable, Mapping, Sequence

import duckdb
import pandas as pd

from pipelines.errors import DeclarationError, nearest
from pipelines.expressions import quote
from pipelines.measures import STANDARD_EXCLUSIONS, Band, Measure
from pipelines.policy import create_setting
from pipelines.typed import sql_file
from pipelines.units import Unit

STATES = (
    "met",
    "late",
    "not_done",
    "not_documented",
    "unusable",
    "not_met",
    "exception",
    "exclusion",
)
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


def create_measure_tables(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute("create schema if not exists measure")
    connection.execute(sql_file("measure", "tables"))


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
    has_edge = "due_minutes" in given or "at_most" in measure.window
    if measure.kind != "bands" and "is_met" not in given and not has_edge:
        raise DeclarationError(
            f"{measure.where}: say when it is met: a window in the header, or due_minutes or "
            "is_met in the select."
        )
    filled = ", ".join(
        f"facts.{name}" if name in given else f"{default} as {name}"
        for name, default in FACTS.items()
    )
    return f"select {filled}, {'true' if 'is_met' in given else 'false'} as says_met " + (
        f"from ({measure.sql}) as facts"
    )


def _exclusion(measure: Measure) -> str:
    """Return the standard exclusions that hold before the window closes, first match wins."""
    whens = []
    for name in measure.exclude:
        minute, words = STANDARD_EXCLUSIONS[name]
        whens.append(f"when {minute} < closes then {quote(words)}")
    return f"case {' '.join(whens)} end" if whens else "cast(null as varchar)"


def _met(band: Band | None) -> str:
    if band is None:
        return (
            "case when says_met then coalesce(is_met, false) "
            "else coalesce(minutes >= coalesce(at_least, 0) and minutes <= due, false) end"
        )
    low = f"value >= {band.at_least!r}" if band.at_least is not None else "true"
    high = f"value < {band.below!r}" if band.below is not None else "true"
    return f"coalesce({low} and {high}, false)"


def _membership(measure: Measure, measure_id: str, band: Band | None) -> str:
    """Return the insert that derives one state per newborn and item. The only place it is done."""
    return f"""
    insert into measure.membership
    with known as (
        select
            facts.*,
            setting.at_least,
            coalesce(facts.due_minutes, setting.at_most) as due,
            coalesce(facts.closes_minutes, facts.due_minutes, setting.at_most, {_NEVER}) as closes,
        from facts
        inner join setting using (newborn_id)
    ),
    placed as (
        select
            newborn.unit,
            newborn.record_id,
            newborn.newborn_id,
            known.item,
            newborn.birth_month as period,
            known.minutes,
            if(known.says_met, null, known.due) as due_minutes,
            known.not_done_reason,
            known.exception,
            coalesce(known.is_documented, false) as is_documented,
            coalesce(known.is_usable, false) as is_usable,
            coalesce(known.exclusion, {_exclusion(measure)}) as exclusion,
            {_met(band)} as in_numerator,
            known.minutes > known.due and not known.says_met as is_late,
        from known
        inner join mart.newborn as newborn using (newborn_id)
    )
    select
        unit,
        record_id,
        newborn_id,
        {quote(measure_id)} as measure_id,
        item,
        period,
        case
            when exclusion is not null then 'exclusion'
            when is_documented and is_usable and in_numerator then 'met'
            when exception is not null then 'exception'
            when not_done_reason is not null then 'not_done'
            when not is_documented then 'not_documented'
            when not is_usable then 'unusable'
            when is_late then 'late'
            else 'not_met'
        end as state,
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
    connection: duckdb.DuckDBPyConnection, units: Sequence[Unit], measure: Measure
) -> None:
    """Insert the membership of one measure (of each band) into ``measure.membership``.

    Raises DeclarationError where the select does not fit, or gives a newborn twice.
    """
    create_setting(connection, units, measure)
    connection.execute(f"create or replace temp table facts as {_facts(connection, measure)}")
    _check_grain(connection, measure)
    bands: Sequence[Band | None] = measure.bands or (None,)
    for measure_id, band in zip(measure.result_ids, bands, strict=True):
        connection.execute(_membership(measure, measure_id, band))
    connection.execute("drop table facts")


def _check_grain(connection: duckdb.DuckDBPyConnection, measure: Measure) -> None:
    row = connection.execute(
        "select count(*) - count(distinct (newborn_id, item)) from facts"
    ).fetchone()
    if row and row[0]:
        raise DeclarationError(
            f"{measure.where}: {row[0]} rows repeat a newborn and item; "
            "group by newborn_id, or number the episodes in 'item'."
        )


def run_measures(
    connection: duckdb.DuckDBPyConnection,
    units: Sequence[Unit],
    measures: Mapping[str, Measure],
    progress: Callable[[str], None] = lambda _: None,
) -> None:
    """Fill ``measure.membership`` and ``measure.result`` for every measure.

    The measure tables must be there and described (``catalogue.describe_store``).
    """
    for measure in measures.values():
        progress(measure.text("title"))
        run_measure(connection, units, measure)
    count_states(connection, measures)


def count_states(connection: duckdb.DuckDBPyConnection, measures: Mapping[str, Measure]) -> None:
    """Fill ``measure.result`` from ``measure.membership``."""
    left_out = [
        one
        for measure in measures.values()
        if measure.get("missing") == "left_out"
        for one in measure.result_ids
    ]
    connection.execute(
        "create or replace temp table missing_left_out as "
        "select unnest(?::varchar[]) as measure_id",
        [left_out],
    )
    counts = connection.execute(sql_file("measure", "counts")).df()
    result = with_rates(counts)
    connection.register("result_frame", result)
    connection.execute("insert into measure.result by name select * from result_frame")
    connection.unregister("result_frame")


def with_rates(counts: pd.DataFrame) -> pd.DataFrame:
    """Add rate, lower, upper, if_none_met and if_all_met to a frame of counts.

    rate: numerator / (denominator - exception), less not_documented and unusable where
    ``missing_left_out``; null where nobody is left. lower, upper: Wilson score interval at
    95 % (Wilson 1927, as in statsmodels). if_none_met and if_all_met: the rate if none, and if
    all, of the undocumented and unusable newborns had met the measure.
    """
    from statsmodels.stats.proportion import proportion_confint

    counts = counts.copy()
    unknown = counts["not_documented"] + counts["unusable"]
    eligible = counts["denominator"] - counts["exception"]
    among = (eligible - unknown).where(counts["missing_left_out"], eligible)
    safe = among.where(among > 0)
    counts["rate"] = counts["numerator"] / safe
    lower, upper = proportion_confint(
        counts["numerator"].to_numpy(float), safe.to_numpy(float), method="wilson"
    )
    counts["lower"], counts["upper"] = lower, upper
    everyone = eligible.where(eligible > 0)
    counts["if_none_met"] = counts["numerator"] / everyone
    counts["if_all_met"] = (counts["numerator"] + unknown) / everyone
    return counts.drop(columns="missing_left_out")
