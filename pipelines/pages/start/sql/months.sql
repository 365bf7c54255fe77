-- one row per unit of the store and month of birth: births (live) and all newborns of the export
select
    newborn.unit as unit,
    unit_info.title as title,
    newborn.birth_month as month,
    count(*) filter (where newborn.live_birth) as births,
    count(*) as newborns,
from newborn
inner join unit_info on unit_info.unit = newborn.unit
where newborn.birth_month is not null
group by newborn.unit, unit_info.title, newborn.birth_month
order by newborn.unit, newborn.birth_month
