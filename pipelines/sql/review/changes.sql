-- one row per recorded change or policy date of the unit and the measure it touches
select
    unnest(measures) as measure_id,
    start_on,
    title as words,
    'change' as kind,
from change_log
where unit = $unit

union all

select
    unnest(balancing) as measure_id,
    start_on,
    title as words,
    'change' as kind,
from change_log
where unit = $unit

union all

select
    measure_id,
    start_on,
    words,
    'policy' as kind,
from policy_break
where unit = $unit
order by start_on, words
