-- one row per temperature of the body; of the skin only where the unit counts it
-- reads setting: skin_counts
select
    event.newborn_id as newborn_id,
    event.kind as kind,
    event.minutes as minutes,
    event.value as value,
    event.is_usable as is_usable,
from mart.event as event
inner join setting on setting.newborn_id = event.newborn_id
where
    event.kind = 'temperature'
    and (
        event.site is null
        or event.site in ('axillary', 'rectal', 'tympanic', 'forehead')
        or (event.site = 'skin' and setting.skin_counts)
    )
    -- A probe in the axilla reads skin too.
    and (event.method is distinct from 'probe' or setting.skin_counts)
