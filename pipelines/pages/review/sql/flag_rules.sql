-- one row per rule and column: flags of this month's newborns and of the whole load; of a finding
-- about a whole file or column, no newborn's
select
    flag.severity,
    flag.rule_id,
    flag.table_name,
    flag.column_name,
    flag.record_id is null as is_whole,
    min(flag.explanation) as explanation,
    count(*) filter (where newborn.birth_month = $month) as in_month,
    count(*) as in_all,
from flag
left join newborn on newborn.unit = flag.unit and newborn.record_id = flag.record_id
where flag.unit = $unit
group by flag.severity, flag.rule_id, flag.table_name, flag.column_name, is_whole
order by
    case flag.severity when 'error' then 1 when 'query' then 2 else 3 end,
    in_month desc,
    in_all desc,
    flag.rule_id,
    flag.table_name,
    flag.column_name
