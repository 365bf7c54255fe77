-- one row per temperature of the body, count of heart beats or count of breaths
-- reads setting: skin_counts
select
    newborn_id as newborn_id,
    kind as kind,
    minutes as minutes,
    value as value,
    is_usable as is_usable,
from mart.event
where kind in ('heart_rate', 'respiratory_rate')
union all by name
select * from body_temperature
