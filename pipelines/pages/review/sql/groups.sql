-- one row per measure, group of newborns (a stratum of the unit, or another unit) and whole
-- quarter up to the month of the page, where any newborn counts
select
    result.measure_id,
    if(result.unit = $unit, result.stratifier, 'unit') as split_by,
    if(result.unit = $unit, result.stratum, unit_info.title) as group_name,
    result.period_start as quarter,
    result.numerator,
    result.counted,
    result.rate,
    result.lower,
    result.upper,
from result
inner join measure_info on measure_info.measure_id = result.measure_id
inner join unit_info on unit_info.unit = result.unit
anti join silent_measure
    on silent_measure.unit = result.unit and silent_measure.measure_id = result.measure_id
where
    result.period_kind = 'quarter'
    and result.period_start + interval 2 month <= $month
    and result.rate is not null
    and measure_info.kind <> 'minutes'
    and if(
        result.unit = $unit,
        result.stratifier in (select unnest($stratifiers)),
        result.stratifier = 'all newborns'
    )
order by split_by, group_name, result.measure_id, quarter
