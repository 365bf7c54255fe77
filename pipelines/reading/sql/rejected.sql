-- one row per export file and reason; the line a row repeats is left out, so that rows group
with plain as (
    select
        source_file,
        regexp_replace(
            regexp_replace(reason, ' of [^ ]+ line [0-9]+', ' of another line'),
            'line [0-9]+',
            'another line'
        ) as reason,
    from rejected
    where unit = $unit
)

select
    source_file,
    reason,
    count(*) as rows_rejected,
from plain
group by source_file, reason
order by rows_rejected desc, source_file, reason
