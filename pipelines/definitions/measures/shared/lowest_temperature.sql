-- one row per newborn and minute with a usable temperature taken here: the lowest of that minute
-- reads setting: skin_counts
select
    newborn_id as newborn_id,
    minutes as minutes,
    min(value) as value_c,
from temperature_here
where is_usable
group by newborn_id, minutes
