-- one row per newborn: the first usable temperature of the body, and whether there is any
-- reads setting: skin_counts
select
    newborn.newborn_id as newborn_id,
    count(reading.newborn_id) > 0 as is_documented,
    min(reading.minutes) filter (where reading.is_usable) as minutes,
from mart.newborn as newborn
left join body_temperature as reading on reading.newborn_id = newborn.newborn_id
group by newborn.newborn_id
