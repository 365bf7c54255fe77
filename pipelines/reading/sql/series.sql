-- one row per measure and month, from the first month there is to the month of the page;
-- a month without newborns is a row with nulls, so that a gap stays a gap
with month as (
    select unnest(
        generate_series(
            min(birth_month),
            $month::date::timestamp,
            interval 1 month
        )
    )::date as month,
    from newborn
    where unit = $unit
),

monthly as (
    select *
    from result
    where unit = $unit and period_kind = 'month' and stratifier = 'all newborns'
)

select
    measure_info.measure_id,
    month.month,
    coalesce(monthly.initial_population, 0) as initial_population,
    coalesce(monthly.exclusion, 0) as exclusion,
    coalesce(monthly.denominator, 0) as denominator,
    coalesce(monthly.exception, 0) as exception,
    coalesce(monthly.numerator, 0) as numerator,
    coalesce(monthly.late, 0) as late,
    coalesce(monthly.not_done, 0) as not_done,
    coalesce(monthly.not_met, 0) as not_met,
    coalesce(monthly.not_documented, 0) as not_documented,
    coalesce(monthly.unusable, 0) as unusable,
    coalesce(monthly.counted, 0) as counted,
    silent_measure.measure_id is not null as is_silent,
    silent_measure.missing_column,
    -- nobody was met where the export is silent, but nobody was missed either
    if(is_silent, null, monthly.rate) as rate,
    if(is_silent, null, monthly.lower) as lower,
    if(is_silent, null, monthly.upper) as upper,
    monthly.if_none_met,
    monthly.if_all_met,
    monthly.target,
    monthly.not_documented / nullif(monthly.denominator, 0) as undocumented_share,
from measure_info
cross join month
left join monthly
    on monthly.measure_id = measure_info.measure_id and monthly.period_start = month.month
left join silent_measure
    on silent_measure.measure_id = measure_info.measure_id and silent_measure.unit = $unit
where
    measure_info.kind <> 'minutes'
    -- another unit's own measure has numbers in force there and none here
    and measure_info.measure_id not in (
        select measure_id from policy group by measure_id having not bool_or(unit = $unit)
    )
order by measure_info.position, measure_info.measure_id, month.month
