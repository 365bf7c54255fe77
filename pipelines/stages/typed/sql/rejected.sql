insert into typed.rejected
select
    unit,
    source_file,
    source_line,
    reason,
from raw.rejected
order by unit, source_file, source_line
