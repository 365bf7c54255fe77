-- one row per newborn and measure asked for, up to the page's month, in order of birth: whether the
-- event came, and what was known before care began
select
    membership.measure_id,
    membership.period as month,
    membership.state = 'met' as happened,
    coalesce(newborn.gestation_band, 'not recorded') as gestation_band,
    coalesce(newborn.mode_of_birth, 'not recorded') as mode_of_birth,
    coalesce(newborn.birth_place, 'not recorded') as birth_place,
from membership
inner join newborn on newborn.newborn_id = membership.newborn_id
where
    membership.unit = $unit
    and membership.period <= $month::date
    and membership.is_counted
    and list_contains($measures, membership.measure_id)
order by membership.measure_id, newborn.birth_order, newborn.newborn_id
