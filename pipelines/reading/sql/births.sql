-- one row per newborn (or item) that the rate of a measure is made of, in order of birth, for
-- the measures asked for; born_on only where the unit keeps birth dates. Ends with $month
select
    membership.measure_id,
    newborn.birth_month as month,
    newborn.birth_date as born_on,
    membership.state = 'met' as is_met,
from membership
inner join newborn on newborn.newborn_id = membership.newborn_id
where membership.unit = $unit
    and list_contains($measures, membership.measure_id)
    and (newborn.birth_month is null or newborn.birth_month <= $month)
    and membership.is_counted
order by membership.measure_id, newborn.birth_order, newborn.newborn_id, membership.item
