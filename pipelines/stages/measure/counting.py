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


# As which side a newborn's row counts. Most newborns have no masked value and count for both;
# the others are there twice (``as_recorded``).
_SIDES = {"judged": ("both", "judged"), "recorded": ("both", "recorded")}


def place_newborns(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the temporary tables ``placed_group``, ``newborn_group`` and ``cell_by_group``.

    placed_group: axis, group_id, stratifier, stratum, unit, period (month of birth for all
    newborns, quarter for a stratum), sides (what its newborns count as). newborn_group:
    newborn_id, side and, for each axis, group_<axis>. cell_by_group is empty yet. From
    mart.newborn; a newborn is there twice where its newborn_id is there below nought too.
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
            {quote(ALL_NEWBORNS)} as stratum_0, {strata},
            case
                when newborn_id < 0 then 'recorded'
                when -newborn_id in (select newborn_id from mart.newborn) then 'judged'
                else 'both'
            end as side,
        from mart.newborn
        """
    )
    groups = " union all ".join(
        f"select {axis} as axis, {quote(name)} as stratifier, stratum_{axis} as stratum, unit, "
        f"{_period(axis)} as period, list(distinct side) as sides from placed_newborn group by all"
        for axis, name in enumerate(_AXES)
    )
    connection.execute(
        "create or replace temp table placed_group as "
        f"select row_number() over () as group_id, * from ({groups})"
    )
    joins = " ".join(
        f"inner join placed_group as g{axis} on g{axis}.axis = {axis} "
        f"and g{axis}.unit = placed.unit and g{axis}.stratum = placed.stratum_{axis} "
        f"and g{axis}.period is not distinct from placed.{_period(axis)}"
        for axis in range(len(_AXES))
    )
    names = ", ".join(
        f"cast(g{axis}.group_id as uinteger) as group_{axis}" for axis in range(len(_AXES))
    )
    connection.execute(
        "create or replace temp table newborn_group as "
        f"select newborn_id, side, {names} from placed_newborn as placed {joins}"
    )
    connection.execute(
        "drop table placed_newborn; create or replace temp table cell_by_group "
        "(measure_id varchar, group_id uinteger, side varchar, state varchar, n bigint)"
    )


def _period(axis: int) -> str:
    return "month" if axis == 0 else "quarter"


def add_cells(connection: duckdb.DuckDBPyConnection) -> None:
    """Add the counts of the rows in ``stated`` to ``cell_by_group``."""
    names = ", ".join(f"group_{axis}" for axis in range(len(_AXES)))
    sets = ", ".join(f"(measure_id, group_{axis}, side, state)" for axis in range(len(_AXES)))
    connection.execute(
        f"""
        insert into cell_by_group
        select measure_id, coalesce({names}), side, state, count(*)
        from stated inner join newborn_group using (newborn_id)
        group by grouping sets ({sets})
        """
    )


def add_spread(connection: duckdb.DuckDBPyConnection, measure_id: str) -> None:
    """Fill ``measure.spread`` for a measure in ``stated``: median and 90th centile of minutes.

    Centiles interpolate linearly between neighbours, as numpy's default does.
    """
    names = ", ".join(f"group_{axis}" for axis in range(len(_AXES)))
    connection.execute(
        f"""
        insert into measure.spread
        with grouped as (
            select unnest([{names}]) as group_id, state, minutes
            from stated inner join newborn_group using (newborn_id)
            where newborn_id > 0 and measure_id = {quote(measure_id)} and state <> 'exclusion'
        ),
        first_month as (
            select unit, min(period) as starts from placed_group
            where axis = 0 and sides <> ['recorded'] group by unit
        )
        select {quote(measure_id)}, place.unit, span.period_kind,
            case span.period_kind
                when 'month' then period
                when 'quarter' then cast(date_trunc('quarter', period) as date)
                else starts
            end as period_start,
            stratifier, stratum,
            count(*) filter (where state = 'met'),
            count(*) filter (where state in ('not_documented', 'unusable', 'not_done', 'not_met')),
            quantile_cont(minutes, 0.5) filter (where state = 'met'),
            quantile_cont(minutes, 0.9) filter (where state = 'met')
        from grouped
        inner join placed_group as place using (group_id)
        inner join first_month on first_month.unit = place.unit
        -- Months only for all newborns; of a month that could not be read there is only "all".
        inner join (values ('month'), ('quarter'), ('all')) as span (period_kind)
            on span.period_kind = 'all'
            or (period is not null and (span.period_kind = 'quarter' or axis = 0))
        group by all
        """
    )


def write_results(
    connection: duckdb.DuckDBPyConnection, table: str = "measure.result", side: str = "judged"
) -> None:
    """Fill ``table`` from the counts of one side: "judged", or "recorded" (flagged values used).

    ``measure.measure_info`` and ``measure.target`` must be filled (``catalogue.describe_store``).
    """
    sides = ", ".join(quote(name) for name in _SIDES[side])
    connection.execute(
        f"""
        create or replace temp view stratum_group as
        from placed_group where list_has_any(sides, [{sides}]);
        create or replace temp view cell as
        from cell_by_group inner join placed_group using (group_id) where side in ({sides})
        """
    )
    result = with_rates(connection.execute(fixed_sql("stages/measure/counts")).df())
    connection.register("result_frame", result)
    connection.execute(f"insert into {table} by name select * from result_frame")
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
