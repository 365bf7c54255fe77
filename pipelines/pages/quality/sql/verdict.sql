-- one row per check
select
    rule_id,
    table_name,
    title,
    severity,
    could_not_be_judged as why,
from verdict
order by rule_id, table_name
