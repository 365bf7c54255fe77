-- one row per measure and rule: newborns whose value the measure could not use, and who have an
-- error flag of that rule
select
    membership.measure_id,
    flag.rule_id,
    count(distinct membership.newborn_id) as newborns,
from membership
inner join flag
    on membership.unit = flag.unit and membership.record_id = flag.record_id
where
    membership.unit = $unit
    and membership.state = 'unusable'
    and flag.severity = 'error'
group by membership.measure_id, flag.rule_id
order by membership.measure_id, newborns desc, flag.rule_id
