-- one row per temperature of the body that was taken here, not before a newborn was brought
-- reads setting: skin_counts
select
    reading.newborn_id as newborn_id,
    reading.minutes as minutes,
    reading.value as value,
    reading.is_usable as is_usable,
from body_temperature as reading
inner join mart.way as way on way.newborn_id = reading.newborn_id
where not coalesce(
    way.born = 'elsewhere' and reading.minutes < way.arrived_minutes, false
)
