-- one row per rule, severity, column, kind and answer: how many flags the unit has, no record
select
    unit,
    rule_id,
    severity,
    table_name,
    column_name,
    answer,
    count(*) as flags,
from flag
where unit = $unit
group by all
order by all
