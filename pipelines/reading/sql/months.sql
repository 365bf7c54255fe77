-- one row per month of birth of the unit: births (live) and all newborns of the export
select
    birth_month as month,
    count(*) filter (where live_birth) as births,
    count(*) as newborns,
from newborn
where unit = $unit
group by birth_month
order by birth_month
