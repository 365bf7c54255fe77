-- one row per timed measure: the minute from which its window is open, for the page's month
select
    measure_id,
    try_cast(value as double) as opens_minutes,
from policy
where
    unit = $unit
    and name = 'at_least'
    and valid_from <= $month::date
    and valid_before > $month::date
    and list_contains($measures, measure_id)
order by measure_id
