-- one row per newborn with an arrival temperature in range or cold, born in the twelve months
-- to the page's: the band, and each factor as true, false or null (not recorded)
with judged_arrival as (
    select
        newborn_id,
        bool_or(measure_id = 'arrival_temperature' and state = 'met') as is_in_range,
        bool_or(measure_id = 'arrival_cold_mild' and state = 'met') as is_mild,
        bool_or(
            measure_id in ('arrival_cold_moderate', 'arrival_cold_severe') and state = 'met'
        ) as is_colder,
    from membership
    where
        unit = $unit
        and period > $month::date - interval 12 month
        and period <= $month::date
        and (measure_id = 'arrival_temperature' or starts_with(measure_id, 'arrival_cold_'))
    group by newborn_id
),

care as (
    select
        newborn_id,
        min(minutes) filter (where kind = 'drying' and status = 'done') as dried_minutes,
        bool_or(kind = 'drying' and status = 'not_done') as is_not_dried,
        bool_or(kind = 'head_cover' and status = 'done') as is_head_covered,
        bool_or(kind = 'head_cover' and status = 'not_done') as is_head_bare,
        min(minutes) filter (where kind = 'skin_contact' and status = 'done') as contact_minutes,
        bool_or(kind = 'skin_contact' and status = 'not_done') as is_not_held,
    from event
    where unit = $unit and table_name = 'care'
    group by newborn_id
)

select
    newborn.record_id,
    case
        when judged_arrival.is_colder then 'colder'
        when judged_arrival.is_mild then 'mild'
        else 'in_range'
    end as band,
    newborn.room_temperature_c < $room_below_c as room_cold,
    newborn.mode_of_birth in ('caesarean_planned', 'caesarean_unplanned') as caesarean,
    newborn.resuscitation <> 'none' as resuscitation,
    newborn.gestational_age_days < $gestation_below_days as early,
    newborn.weight_g < $weight_below_g as small,
    if(
        care.dried_minutes is not null,
        care.dried_minutes > $dried_by_minutes,
        nullif(care.is_not_dried, false)
    ) as not_dried,
    if(care.is_head_covered, false, nullif(care.is_head_bare, false)) as head_bare,
    if(
        care.contact_minutes is not null,
        care.contact_minutes > $contact_by_minutes,
        nullif(care.is_not_held, false)
    ) as no_contact,
    -- a blank arrival says that mother and newborn stayed in one room; a masked one says nothing
    case
        when coalesce(newborn.arrival_minutes, newborn.leave_birth_room_minutes) is not null
            then true
        when not list_contains(newborn.unusable, 'arrival_minutes') then false
    end as moved,
    newborn.maternal_temperature_c < $mother_below_c as mother_cold,
    newborn.shift = 'night' as night,
    month(newborn.birth_month) in (12, 1, 2) as winter,
from judged_arrival
inner join newborn on newborn.newborn_id = judged_arrival.newborn_id
left join care on care.newborn_id = newborn.newborn_id
where judged_arrival.is_colder or judged_arrival.is_mild or judged_arrival.is_in_range
order by newborn.record_id
