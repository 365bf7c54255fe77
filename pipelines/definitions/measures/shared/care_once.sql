-- one row per newborn and kind of care that is to be done, or to come, once: when it first was;
-- what came before birth (stool in the waters) counts as at birth
with first_care as (
    select
        newborn_id as newborn_id,
        kind as kind,
        coalesce(bool_or(status = 'done' or status is null), false) as is_open,
        min(if(minutes < 0, 0, minutes)) filter (where status = 'done') as minutes,
        min(coalesce(reason, 'no reason recorded')) filter (
            where status = 'not_done'
        ) as not_done_reason,
        coalesce(bool_or(not is_usable), false) as has_unplaced,
    from mart.event
    where
        kind in (
            'first_stool', 'first_void', 'examination', 'car_seat', 'sepsis_risk',
            'band_check_leaving', 'follow_up_arranged'
        )
    group by newborn_id, kind
)

select
    newborn.newborn_id as newborn_id,
    care.kind as kind,
    if(first_care.is_open, null, first_care.not_done_reason) as not_done_reason,
    first_care.newborn_id is not null as is_documented,
    first_care.minutes is not null as is_usable,
    first_care.minutes as minutes,
    coalesce(first_care.has_unplaced, false) as has_unplaced,
from mart.newborn as newborn
cross join (
    values
        ('first_stool'), ('first_void'), ('examination'), ('car_seat'), ('sepsis_risk'),
        ('band_check_leaving'), ('follow_up_arranged')
) as care (kind)
left join first_care
    on first_care.newborn_id = newborn.newborn_id and first_care.kind = care.kind
