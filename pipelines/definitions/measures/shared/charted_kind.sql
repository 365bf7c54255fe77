-- one row per unit and kind of event that its exports have at all, for any newborn
select distinct
    newborn.unit as unit,
    event.kind as kind,
from mart.event as event
inner join mart.newborn as newborn on newborn.newborn_id = event.newborn_id
