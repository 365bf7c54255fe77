"""From states to counts, rates and bounds, over all newborns and over each part of them.

Each newborn is placed once: by month of birth, and by quarter and stratum for each stratifier.
A measure's states are then counted by those places alone.
"""

import duckdb
import pandas as pd

from pipelines.base.sql import fixed_sql, quote
from pipelines.definitions.strata import ALL_NEWBORNS, NOT_RECORDED, STRATIFIERS
from pipelines.statistics.intervals import wilson

_AXES = (ALL_NEWBORNS, *STRATIFIERS)


def place_newborns(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the temporary tables ``stratum_group`` and ``newborn_group`` from mart.newborn.

    stratum_group: axis, group_id, stratifier, stratum, unit, period (month of birth for all
    newborns, quarter for a stratum). newborn_group: newborn_id and, for each axis, group_<axis>.
    """
    strata = ", ".join(
        f"coalesce(cast({name} as varchar), {quote(NOT_RECORDED)}) as stratum_{axis}"
        for axis, name in enumerate(STRATIFIERS, start=1)
    )
    connection.execute(
        f"""
        create or replace temp table placed_newborn as
        select newborn_id, unit, birth_month as month,
            cast(date_trunc('quarter', birth_month) as date) as quarter,
            {quote(ALL_NEWBORNS)} as stratum_0, {strata}
        from mart.newborn
        """
    )
    groups = " union all ".join(
        f"select {axis} as axis, row_number() over () as group_id, "
        f"{quote(name)} as stratifier, * from "
        f"(select distinct stratum_{axis} as stratum, unit, {_period(axis)} as period "
        "from placed_newborn)"
        for axis, name in enumerate(_AXES)
    )
    connection.execute(f"create or replace temp table stratum_group as {groups}")
    joins = " ".join(
        f"inner join stratum_group as g{axis} on g{axis}.axis = {axis} "
        f"and g{axis}.unit = placed.unit and g{axis}.stratum = placed.stratum_{axis} "
        f"and g{axis}.period is not distinct from placed.{_period(axis)}"
        for axis in range(len(_AXES))
    )
    names = ", ".join(
        f"cast(g{axis}.group_id as uinteger) as group_{axis}" for axis in range(len(_AXES))
    )
    connection.execute(
        "create or replace temp table newborn_group as "
        f"select newborn_id, {names} from placed_newborn as placed {joins}"
    )
    connection.execute("drop table placed_newborn")
    connection.execute(
        "create or replace temp table cell (measure_id varchar, stratifier varchar, "
        "stratum varchar, unit varchar, period date, state varchar, n bigint)"
    )


def _period(axis: int) -> str:
    return "month" if axis == 0 else "quarter"


def add_cells(
    connection: duckdb.DuckDBPyConnection, measure_id: str, states: str, sign: int = 1
) -> None:
    """Add the counts of one measure's states to the temporary table ``cell``.

    ``states`` is a query of newborn_id, state; ``sign`` -1 takes them away again.
    """
    names = ", ".join(f"group_{axis}" for axis in range(len(_AXES)))
    connection.execute(
        f"create or replace temp table placed_state as select states.state, {names} "
        f"from ({states}) as states inner join newborn_group using (newborn_id)"
    )
    counts = " union all ".join(
        f"select {axis} as axis, group_{axis} as group_id, state, count(*) as n "
        f"from placed_state group by group_{axis}, state"
        for axis in range(len(_AXES))
    )
    connection.execute(
        f"""
        insert into cell
        select {quote(measure_id)}, stratifier, stratum, unit, period, cast(state as varchar),
            {sign} * n
        from ({counts}) as counts
        inner join stratum_group using (axis, group_id)
        """
    )


def add_spread(connection: duckdb.DuckDBPyConnection, measure_id: str, states: str) -> None:
    """Fill ``measure.spread`` for one measure: median and 90th centile of the minutes.

    ``states`` is a query of newborn_id, state, minutes. Centiles interpolate linearly between
    neighbours, as numpy's default does.
    """
    spans = " union all ".join(
        f"""
        select {quote(kind)} as period_kind, {start} as period_start, stratifier, stratum,
            place.unit, state, minutes
        from stated inner join stratum_group as place
            on place.axis = {axis} and place.group_id = stated.group_{axis}
        {"" if kind == "all" else "where period is not null"}
        """
        for axis in range(len(_AXES))
        for kind, start in _spans(axis)
    )
    connection.execute(
        f"""
        insert into measure.spread
        with stated as (
            select * from ({states}) as states inner join newborn_group using (newborn_id)
        ),
        first_month as (
            select unit, min(period) as starts from stratum_group where axis = 0 group by unit
        ),
        spans as ({spans})
        select {quote(measure_id)}, unit, period_kind, coalesce(period_start, starts),
            stratifier, stratum,
            count(*) filter (where state = 'met'),
            count(*) filter (where state in ('not_documented', 'unusable', 'not_done', 'not_met')),
            quantile_cont(minutes, 0.5) filter (where state = 'met'),
            quantile_cont(minutes, 0.9) filter (where state = 'met')
        from spans inner join first_month using (unit)
        where state <> 'exclusion'
        group by all
        """
    )


def _spans(axis: int) -> list[tuple[str, str]]:
    """Return (kind of period, its first day) for one axis: months only for all newborns."""
    quarter = ("quarter", "cast(date_trunc('quarter', period) as date)")
    months = [("month", "period")] if axis == 0 else []
    return [*months, quarter, ("all", "cast(null as date)")]


def write_results(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill ``measure.result`` from the temporary table ``cell``."""
    result = with_rates(connection.execute(fixed_sql("stages/measure/counts")).df())
    connection.register("result_frame", result)
    connection.execute("insert into measure.result by name select * from result_frame")
    connection.unregister("result_frame")


def with_rates(counts: pd.DataFrame) -> pd.DataFrame:
    """Add rate, lower, upper, if_none_met and if_all_met to a frame of counts.

    rate: numerator / counted; null where nobody is counted. lower, upper: Wilson score interval
    at 95 % (Wilson 1927). if_none_met and if_all_met: the rate if none, and if
    all, of the undocumented and unusable newborns had met the measure, whether
    ``missing_left_out`` of the rate or not.
    """
    counts = counts.copy()
    unknown = counts["not_documented"] + counts["unusable"]
    safe = counts["counted"].where(counts["counted"] > 0)
    counts["rate"] = counts["numerator"] / safe
    counts["lower"], counts["upper"] = wilson(counts["numerator"], safe)
    everyone = counts["counted"] + unknown.where(counts["missing_left_out"], 0)
    everyone = everyone.where(everyone > 0)
    counts["if_none_met"] = counts["numerator"] / everyone
    counts["if_all_met"] = (counts["numerator"] + unknown) / everyone
    return counts
