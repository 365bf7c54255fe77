-- one row per newborn that is known to have gone home: when; not by death or transfer
select
    newborn_id as newborn_id,
    discharge_minutes as home_minutes,
from mart.newborn
where discharge_minutes is not null and not coalesce(disposition in ('died', 'transfer'), false)
