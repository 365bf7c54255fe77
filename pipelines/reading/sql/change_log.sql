-- one row per change in the unit's log
select
    change_id,
    start_on,
    title,
    measures,
    balancing,
    process,
from change_log
where unit = $unit
order by start_on, change_id
