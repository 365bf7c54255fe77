-- One row per measure, unit, period and stratum, also where nobody was eligible.
with spans as (
    select
        axis,
        stratifier,
        stratum,
        unit,
        period,
        'month' as period_kind,
        period as period_start,
    from stratum_group
    where axis = 0 and period is not null
    union all by name
    select
        axis,
        stratifier,
        stratum,
        unit,
        period,
        'quarter' as period_kind,
        cast(date_trunc('quarter', period) as date) as period_start,
    from stratum_group
    where period is not null
    union all by name
    select
        axis,
        stratifier,
        stratum,
        unit,
        period,
        'all' as period_kind,
        min(period) filter (where axis = 0) over (partition by unit) as period_start,
    from stratum_group
),

counted as (
    select
        measure_id,
        stratifier,
        stratum,
        unit,
        period,
        sum(n) as initial_population,
        sum(n) filter (where state = 'exclusion') as exclusion,
        sum(n) filter (where state <> 'exclusion') as denominator,
        sum(n) filter (where state = 'exception') as exception,
        sum(n) filter (where state = 'met') as numerator,
        sum(n) filter (where state = 'late') as late,
        sum(n) filter (where state = 'not_done') as not_done,
        sum(n) filter (where state = 'not_met') as not_met,
        sum(n) filter (where state = 'not_documented') as not_documented,
        sum(n) filter (where state = 'unusable') as unusable,
    from cell
    group by measure_id, stratifier, stratum, unit, period
)

select
    measure_info.measure_id,
    spans.unit,
    spans.period_kind,
    spans.period_start,
    spans.stratifier,
    spans.stratum,
    coalesce(sum(counted.initial_population), 0)::bigint as initial_population,
    coalesce(sum(counted.exclusion), 0)::bigint as exclusion,
    coalesce(sum(counted.denominator), 0)::bigint as denominator,
    coalesce(sum(counted.exception), 0)::bigint as exception,
    coalesce(sum(counted.numerator), 0)::bigint as numerator,
    coalesce(sum(counted.late), 0)::bigint as late,
    coalesce(sum(counted.not_done), 0)::bigint as not_done,
    coalesce(sum(counted.not_met), 0)::bigint as not_met,
    coalesce(sum(counted.not_documented), 0)::bigint as not_documented,
    coalesce(sum(counted.unusable), 0)::bigint as unusable,
    arg_max_null(target.target, spans.period) as target,
    bool_or(measure_info.missing = 'left_out') as missing_left_out,
from measure.measure_info as measure_info
cross join spans
-- A measure that is a unit's own is counted for that unit alone: others have no target of it.
semi join measure.target as judged_by
    on measure_info.measure_id = judged_by.measure_id and spans.unit = judged_by.unit
left join counted
    on
        measure_info.measure_id = counted.measure_id
        and spans.stratifier = counted.stratifier
        and spans.stratum = counted.stratum
        and spans.unit = counted.unit
        and spans.period is not distinct from counted.period
left join measure.target as target
    on
        measure_info.measure_id = target.measure_id
        and spans.unit = target.unit
        -- The target of a quarter is that of its last month, for a stratum as for all newborns.
        and if(spans.axis = 0, spans.period, cast(spans.period + interval 2 month as date))
            >= target.valid_from
        and if(spans.axis = 0, spans.period, cast(spans.period + interval 2 month as date))
            < target.valid_before
group by
    measure_info.measure_id,
    spans.unit,
    spans.period_kind,
    spans.period_start,
    spans.stratifier,
    spans.stratum
order by all
