-- one row per kind of reading and value: how often it was recorded
select
    kind,
    round(value, 2) as value,
    count(*) as readings,
from event
where
    unit = $unit
    and table_name = 'observation'
    and value is not null
    and kind in ('temperature', 'respiratory_rate', 'heart_rate')
group by kind, round(value, 2)
order by kind, value
