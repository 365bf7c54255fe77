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

rule as (
    select distinct
        measure_id,
        missing_left_out,
    from measure.rate_state
),

state_count as (
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
        sum(n) filter (where rate_state.is_counted) as counted,
    from cell
    inner join measure.rate_state as rate_state using (measure_id, state)
    group by measure_id, stratifier, stratum, unit, period
)

select
    rule.measure_id,
    spans.unit,
    spans.period_kind,
    spans.period_start,
    spans.stratifier,
    spans.stratum,
    coalesce(sum(state_count.initial_population), 0)::bigint as initial_population,
    coalesce(sum(state_count.exclusion), 0)::bigint as exclusion,
    coalesce(sum(state_count.denominator), 0)::bigint as denominator,
    coalesce(sum(state_count.exception), 0)::bigint as exception,
    coalesce(sum(state_count.numerator), 0)::bigint as numerator,
    coalesce(sum(state_count.late), 0)::bigint as late,
    coalesce(sum(state_count.not_done), 0)::bigint as not_done,
    coalesce(sum(state_count.not_met), 0)::bigint as not_met,
    coalesce(sum(state_count.not_documented), 0)::bigint as not_documented,
    coalesce(sum(state_count.unusable), 0)::bigint as unusable,
    coalesce(sum(state_count.counted), 0)::bigint as counted,
    rule.missing_left_out,
    arg_max_null(target.target, spans.period) as target,
from rule
cross join spans
-- A measure that is a unit's own is counted for that unit alone: others have no target of it.
semi join measure.target as judged_by
    on rule.measure_id = judged_by.measure_id and spans.unit = judged_by.unit
left join state_count
    on
        rule.measure_id = state_count.measure_id
        and spans.stratifier = state_count.stratifier
        and spans.stratum = state_count.stratum
        and spans.unit = state_count.unit
        and spans.period is not distinct from state_count.period
left join measure.target as target
    on
        rule.measure_id = target.measure_id
        and spans.unit = target.unit
        -- The target of a quarter is that of its last month, for a stratum as for all newborns.
        and if(spans.axis = 0, spans.period, cast(spans.period + interval 2 month as date))
            >= target.valid_from
        and if(spans.axis = 0, spans.period, cast(spans.period + interval 2 month as date))
            < target.valid_before
group by
    rule.measure_id,
    rule.missing_left_out,
    spans.unit,
    spans.period_kind,
    spans.period_start,
    spans.stratifier,
    spans.stratum
order by all
