-- One row per measure, unit and period, also for a month without an eligible newborn.
with by_month as (
    select
        measure_id,
        unit,
        period,
        count(*) as initial_population,
        count(*) filter (where state = 'exclusion') as exclusion,
        count(*) filter (where state <> 'exclusion') as denominator,
        count(*) filter (where state = 'exception') as exception,
        count(*) filter (where state = 'met') as numerator,
        count(*) filter (where state = 'late') as late,
        count(*) filter (where state = 'not_done') as not_done,
        count(*) filter (where state = 'not_met') as not_met,
        count(*) filter (where state = 'not_documented') as not_documented,
        count(*) filter (where state = 'unusable') as unusable,
    from measure.membership
    group by measure_id, unit, period
),

unit_month as (
    select distinct
        unit,
        birth_month as period,
    from mart.newborn
),

-- A month in which nobody was eligible is a month of zeros, not a gap.
every_month as (
    select
        measure_info.measure_id,
        unit_month.unit,
        unit_month.period,
        target.target,
        by_month.* exclude (measure_id, unit, period),
    from measure.measure_info as measure_info
    cross join unit_month
    left join by_month
        on measure_info.measure_id = by_month.measure_id
        and unit_month.unit = by_month.unit
        and unit_month.period is not distinct from by_month.period
    left join measure.target as target
        on measure_info.measure_id = target.measure_id
        and unit_month.unit = target.unit
        and unit_month.period >= target.valid_from
        and unit_month.period < target.valid_before
),

periods as (
    select
        'month' as period_kind,
        period as period_start,
        *,
    from every_month
    where period is not null
    union all by name
    select
        'quarter' as period_kind,
        cast(date_trunc('quarter', period) as date) as period_start,
        *,
    from every_month
    where period is not null
    union all by name
    select
        'all' as period_kind,
        min(period) over (partition by unit) as period_start,
        *,
    from every_month
)

select
    measure_id,
    unit,
    period_kind,
    period_start,
    'all newborns' as stratifier,
    'all newborns' as stratum,
    coalesce(sum(initial_population), 0)::bigint as initial_population,
    coalesce(sum(exclusion), 0)::bigint as exclusion,
    coalesce(sum(denominator), 0)::bigint as denominator,
    coalesce(sum(exception), 0)::bigint as exception,
    coalesce(sum(numerator), 0)::bigint as numerator,
    coalesce(sum(late), 0)::bigint as late,
    coalesce(sum(not_done), 0)::bigint as not_done,
    coalesce(sum(not_met), 0)::bigint as not_met,
    coalesce(sum(not_documented), 0)::bigint as not_documented,
    coalesce(sum(unusable), 0)::bigint as unusable,
    arg_max_null(target, period) as target,
    measure_id in (select measure_id from missing_left_out) as missing_left_out,
from periods
group by measure_id, unit, period_kind, period_start
order by measure_id, unit, period_kind, period_start
