-- one row per recorded change or policy date of the unit and the measure it touches; a change
-- that names a file of bands touches each of its bands
with named as (
    select unnest(measures) as name, start_on, title from change_log where unit = $unit
    union
    select unnest(balancing) as name, start_on, title from change_log where unit = $unit
)

select
    measure_info.measure_id,
    named.start_on,
    named.title as words,
    'change' as kind,
from named
inner join measure_info on named.name in (measure_info.measure_id, measure_info.parent_id)

union all

select
    measure_id,
    start_on,
    words,
    'policy' as kind,
from policy_break
where unit = $unit
order by start_on, words
