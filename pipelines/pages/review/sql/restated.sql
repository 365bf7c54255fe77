-- one row per number of an earlier month that an earlier store showed otherwise, the last
-- noticed first; how long something took has no rate and is left out
select
    restated.*,
    measure_info.title,
    measure_info.kind,
from restated
inner join measure_info using (measure_id)
where restated.unit = $unit
    and restated.period_start <= $month
    and measure_info.kind <> 'minutes'
order by noticed_at desc, period_start desc, position
