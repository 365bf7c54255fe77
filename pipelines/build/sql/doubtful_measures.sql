-- one row per unit and measure of which its export has no usable record; bands stand once
select
    silent_measure.unit,
    measure_info.parent_id as measure_id,
    min(measure_info.position) as position,
    min(silent_measure.missing_column) as missing_column,
from silent_measure
inner join measure_info on measure_info.measure_id = silent_measure.measure_id
group by all
order by silent_measure.unit, position
