-- one row per count of heart beats or breaths that no device made, in the first hours
-- reads setting: counts_until_minutes
select event.*
from mart.event as event
inner join setting on setting.newborn_id = event.newborn_id
where
    event.kind in ('heart_rate', 'respiratory_rate')
    and event.method is distinct from 'device'
    and (event.minutes is null or event.minutes <= setting.counts_until_minutes)
