-- one row per measure, stratifier and stratum: counts over up to eight quarters
with span as (
    select max(period_start) as last_quarter,
    from result
    where unit = $unit and period_kind = 'quarter'
)

select
    result.measure_id,
    result.stratifier,
    result.stratum,
    sum(result.initial_population) as initial_population,
    sum(result.denominator) as denominator,
    sum(result.exception) as exception,
    sum(result.numerator) as numerator,
    sum(result.not_documented) as not_documented,
    sum(result.unusable) as unusable,
    sum(result.counted) as counted,
from result
anti join silent_measure as silent
    on silent.unit = result.unit and silent.measure_id = result.measure_id
cross join span
where
    result.unit = $unit
    and result.period_kind = 'quarter'
    and result.period_start > span.last_quarter - interval 24 month
group by result.measure_id, result.stratifier, result.stratum
order by result.measure_id, result.stratifier, result.stratum
