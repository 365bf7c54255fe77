-- one row per newborn that is known to have gone home: when; not by death or transfer
select
    newborn_id as newborn_id,
    home_minutes as home_minutes,
from mart.way
where home_minutes is not null
