-- one row per newborn that was moved to another level of care; -1 where the time is not known
select
    newborn_id as newborn_id,
    min(coalesce(minutes, -1)) as moved_minutes,
from mart.event
where kind = 'transfer' and status = 'done'
group by newborn_id
