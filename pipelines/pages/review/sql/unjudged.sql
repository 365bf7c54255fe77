-- one row per check that could not be judged, and why
select
    rule_id,
    table_name,
    could_not_be_judged as why,
from verdict
where could_not_be_judged is not null
order by rule_id, table_name
