-- one row per export file and reason
select
    source_file,
    reason,
    count(*) as rows_rejected,
from rejected
where unit = $unit
group by source_file, reason
order by rows_rejected desc, source_file, reason
