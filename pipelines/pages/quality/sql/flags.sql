-- one row per flag, with the month of birth of its newborn; a whole file or column has no month
select
    flag_now.record_id,
    flag_now.table_name,
    flag_now.kind,
    flag_now.column_name,
    flag_now.recorded_value,
    flag_now.rule_id,
    flag_now.severity,
    flag_now.explanation,
    flag_now.suggestion,
    flag_now.source_file,
    flag_now.source_line,
    flag_now.answer,
    flag_now.answered_by,
    flag_now.answer_reason,
    newborn.birth_month as month,
from flag_now
left join newborn
    on flag_now.unit = newborn.unit and flag_now.record_id = newborn.record_id
where flag_now.unit = $unit
order by
    newborn.birth_month desc nulls first,
    flag_now.record_id,
    flag_now.table_name,
    flag_now.column_name,
    flag_now.source_line,
    flag_now.rule_id
