-- one row per flag, with the month of birth of its newborn; a whole file or column has no month
select
    flag.record_id,
    flag.table_name,
    flag.kind,
    flag.column_name,
    flag.recorded_value,
    flag.rule_id,
    flag.severity,
    flag.explanation,
    flag.suggestion,
    flag.source_file,
    flag.source_line,
    flag.answer,
    flag.answered_by,
    flag.answer_reason,
    newborn.birth_month as month,
from flag
left join newborn
    on flag.unit = newborn.unit and flag.record_id = newborn.record_id
where flag.unit = $unit
order by
    newborn.birth_month desc nulls first,
    flag.record_id,
    flag.table_name,
    flag.column_name,
    flag.source_file,
    flag.source_line,
    flag.rule_id
