-- one row per flagged value of a newborn of the month; notes only inform and are left out
select
    flag.record_id,
    flag.table_name,
    flag.column_name,
    flag.recorded_value,
    flag.rule_id,
    flag.severity,
    flag.explanation,
    flag.suggestion,
    flag.source_file,
    flag.source_line,
from flag
where flag.unit = $unit
    and flag.severity in ('error', 'query')
    and exists (
        select 1
        from newborn
        where newborn.unit = flag.unit
            and newborn.record_id = flag.record_id
            and newborn.birth_month = $month
    )
order by flag.record_id, flag.severity, flag.table_name, flag.column_name, flag.source_line
