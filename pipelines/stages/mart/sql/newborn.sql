-- One row per newborn: who it is. Its way through the unit is told in mart.way.
create table mart.newborn as
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
    admission.unusable,
from judged.admission as admission
order by admission.newborn_id
