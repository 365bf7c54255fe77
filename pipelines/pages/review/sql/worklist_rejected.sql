-- one row per line of a worklist that was not read, of this month, the month before, or no month
select
    file_name,
    file_line,
    rejected,
from worklist_line
where unit = $unit
    and rejected is not null
    and (month is null or month in ($month, cast($month - interval 1 month as date)))
order by file_name, file_line
