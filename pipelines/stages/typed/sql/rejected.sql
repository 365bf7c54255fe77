insert into typed.rejected
select
    unit,
    source_file,
    line_in_file as source_line,
    reason,
from raw.rejected
order by unit, source_file, source_line
