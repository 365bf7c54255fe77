-- One row per newborn.
create table mart.newborn as
with first_care as (
    select
        newborn_id,
        min(minutes) filter (where kind = 'comfort_care') as comfort_care_minutes,
        min(minutes) filter (where kind = 'cooling') as cooling_minutes,
        bool_or(kind = 'comfort_care') as has_comfort_care,
        bool_or(kind = 'cooling') as has_cooling,
    from judged.care
    where
        kind in ('comfort_care', 'cooling')
        and coalesce(status, 'done') = 'done'
    group by newborn_id
)

select
    admission.newborn_id,
    admission.* exclude (
        newborn_id, row_id, source_file, source_line, live_birth, unusable
    ),
    coalesce(admission.live_birth, true) as live_birth,
    case
        when admission.gestational_age_days < 196 then 'under 28 weeks'
        when admission.gestational_age_days < 224 then '28 to 31 weeks'
        when admission.gestational_age_days < 238 then '32 to 33 weeks'
        when admission.gestational_age_days < 259 then '34 to 36 weeks'
        when admission.gestational_age_days >= 259 then '37 weeks or more'
    end as gestation_band,
    case
        when admission.birth_hour between 7 and 18 then 'day'
        when admission.birth_hour is not null then 'night'
    end as shift,
    -- A death, transfer or plan without a time is placed before every window (-1): such a newborn
    -- is set apart with its reason rather than counted as missed care.
    if(admission.disposition = 'died', coalesce(admission.discharge_minutes, -1), null)
        as died_minutes,
    if(admission.disposition = 'transfer', coalesce(admission.discharge_minutes, -1), null)
        as transfer_minutes,
    if(first_care.has_comfort_care, coalesce(first_care.comfort_care_minutes, -1), null)
        as comfort_care_minutes,
    if(first_care.has_cooling, coalesce(first_care.cooling_minutes, -1), null)
        as cooling_minutes,
    admission.unusable,
from judged.admission as admission
left join first_care using (newborn_id)
order by admission.newborn_id
