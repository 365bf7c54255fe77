-- one row per month of birth: who was born, to see whether the newborns themselves changed
select
    birth_month as month,
    count(*) as births,
    count(gestation_band) filter (where gestation_band <> 'not recorded') as gestation_known,
    count(*) filter (where gestation_band not in ('37 weeks or more', 'not recorded')) as preterm,
    count(mode_of_birth) as mode_known,
    count(*) filter (where mode_of_birth like 'caesarean%') as caesarean,
    count(shift) filter (where shift in ('day', 'night')) as shift_known,
    count(*) filter (where shift = 'night') as night,
from newborn
where unit = $unit and live_birth and birth_month <= $until
group by birth_month
order by birth_month
