-- one row per measure of which this unit's export has no usable record
select measure_id
from silent_measure
where unit = $unit
