-- one row per answer of the unit
select
    record_id,
    table_name,
    column_name,
    recorded_value,
    decision,
    role,
    why,
    file_line,
    flags,
from answer
where unit = $unit
order by file_line
