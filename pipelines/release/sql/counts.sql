-- one row per measure, period and stratum of the unit: the counts, unmasked
select
    result.measure_id,
    measure_info.parent_id,
    measure_info.kind,
    result.missing_left_out,
    result.period_kind,
    result.period_start,
    result.stratifier,
    result.stratum,
    result.initial_population,
    result.exclusion,
    result.denominator,
    result.exception,
    result.numerator,
    result.late,
    result.not_done,
    result.not_met,
    result.not_documented,
    result.unusable,
    result.counted,
    result.target,
from result
inner join measure_info on measure_info.measure_id = result.measure_id
anti join silent_measure as silent
    on silent.unit = result.unit and silent.measure_id = result.measure_id
where result.unit = $unit
order by
    measure_info.position,
    result.period_start,
    result.stratifier,
    result.stratum
