-- One row per newborn: who it is. Its way through the unit is told in mart.way.
create table mart.newborn as
with of_sex as (
    select
        admission.newborn_id,
        least(count(*) filter (where limit_of.weight_g <= admission.weight_g), 99) as centile,
    from judged.admission as admission
    inner join typed.weight_centile as limit_of
        on
            limit_of.unit = admission.unit
            and limit_of.gestational_age_days = admission.gestational_age_days
            and (
                limit_of.sex = admission.sex
                or coalesce(admission.sex not in ('male', 'female'), true)
            )
    where admission.weight_g is not null
    group by admission.newborn_id, limit_of.sex
),

centile as (
    select
        newborn_id,
        -- Where the sex is not known, of the two the one nearer to the middle.
        case
            when max(centile) < 50 then max(centile)
            when min(centile) >= 50 then min(centile)
            else 50
        end as weight_centile,
    from of_sex
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
    centile.weight_centile,
    admission.unusable,
from judged.admission as admission
left join centile using (newborn_id)
order by admission.newborn_id
