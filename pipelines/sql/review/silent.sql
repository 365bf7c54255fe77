-- one row per measure of which this unit's export has no usable record
select
    measure_id,
    denominator,
    not_documented,
    unusable,
from silent_measure
where unit = $unit
order by measure_id
