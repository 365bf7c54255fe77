-- one row per date on which the numbers of a measure changed for the unit
select
    measure_id,
    start_on,
    words,
from policy_break
where unit = $unit
order by start_on, measure_id
