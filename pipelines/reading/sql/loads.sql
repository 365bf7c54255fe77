-- one row per export file
select
    source_file,
    content_hash,
    rows_in,
    rows_kept,
    rows_rejected,
    loaded_at,
    note,
from load_log
where unit = $unit
order by source_file
