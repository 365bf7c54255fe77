-- one row per measure whose misses put no record on the worklist, and which setting says so:
-- 'listed' (a miss is a matter for the unit) or 'headline' (this unit leads with another reading)
select
    measure_id,
    max(name) as because,
from policy
where unit = $unit
    and name in ('listed', 'headline')
    and value = 'false'
    and valid_from <= $month
    and $month < valid_before
group by measure_id
order by measure_id
