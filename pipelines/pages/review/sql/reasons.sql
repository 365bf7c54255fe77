-- one row per measure, state and reason of the month, of newborns (or items) that were not met
select
    measure_id,
    state,
    reason,
    count(*) as newborns,
    median(minutes - due_minutes) filter (where state = 'late') as median_late_minutes,
from membership
where unit = $unit and period = $month and state <> 'met'
group by measure_id, state, reason
order by measure_id, state, newborns desc, reason
