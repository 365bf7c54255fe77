-- one row per measure, unit and kind of birth: newborns counted and met over the page's months;
-- not for measures with several rows to a newborn, whose limits would be too narrow
select
    membership.measure_id,
    membership.unit,
    coalesce(newborn.gestation_band, 'not recorded') as gestation_band,
    coalesce(newborn.mode_of_birth, 'not recorded') as mode_of_birth,
    coalesce(newborn.shift, 'not recorded') as shift,
    count(*) as counted,
    count(*) filter (where membership.state = 'met') as numerator,
from membership
inner join measure_info on measure_info.measure_id = membership.measure_id
anti join silent_measure as silent
    on silent.unit = membership.unit and silent.measure_id = membership.measure_id
inner join newborn on newborn.newborn_id = membership.newborn_id
where
    membership.period between $first and $last
    and measure_info.kind in ('proportion', 'bands')
    and membership.is_counted
group by all
order by all
