-- What the rules may know of the clock, by newborn: the minute of the hour at birth, and whether
-- the unit's clock was put back within two hours of it. Working table, never stored.
create or replace temp table birth_clock as
with born as (
    select
        birth.newborn_id,
        birth.born_at,
        coalesce(unit_zone.zone, 'UTC') as zone,
    from raw.birth as birth
    left join unit_zone using (unit)
    where birth.born_at is not null
)

select
    newborn_id,
    minute(timezone(zone, born_at)) as minute_of_hour,
    -- Four hours of time are fewer on the clock where it was put back between.
    timezone(zone, born_at + interval 2 hour) - timezone(zone, born_at - interval 2 hour)
        < interval 4 hour as is_clock_put_back,
from born
