-- Restricted z-scores of birth size, once for all rules. size_curve (one row per unit, part of the
-- reference, sex and day, with a curve for each size) is filled before.
-- A size nobody can read from a curve (null curve or size) has no z.
create or replace temp macro restricted_z(size, curve) as
case
    when curve is null then null
    -- Straight tails (WHO Child Growth Standards 2006): z never saturates. They begin at 3, and
    -- at the 97th centile where a reference's own upper tail is longer (sizes.toml).
    when size < curve.low_3 then -3 + (size - curve.low_3) / curve.low_step
    when size > curve.high_from
        then curve.high_from_z + (size - curve.high_from) / curve.high_step
    when curve.l is null then (size - curve.m) / if(size < curve.m, curve.sd_low, curve.sd_high)
    when curve.l = 0 then ln(size / curve.m) / curve.s
    else (pow(size / curve.m, curve.l) - 1) / (curve.l * curve.s)
end;

-- Every curve a newborn may be read from: both sexes where the sex is not known, both published
-- parts within a week of their seam. No row without gestation, below the first day or without
-- a size.
create or replace temp view size_choice as
select
    newborn.row_id,
    curve.weight_curve,
    curve.length_curve,
    curve.head_curve,
from typed.admission as newborn
inner join size_curve as curve
    on curve.unit = newborn.unit
    and curve.gestational_age_days = newborn.gestational_age_days
where
    coalesce(newborn.sex = curve.sex or newborn.sex not in ('male', 'female'), true)
    and coalesce(newborn.weight_g, newborn.length_cm, newborn.head_circumference_cm) is not null;

-- Of several curves the mildest z counts.
create or replace temp table size_z as
with each_curve as (
    select
        choice.row_id,
        restricted_z(newborn.weight_g, choice.weight_curve) as weight_z,
        restricted_z(newborn.length_cm, choice.length_curve) as length_z,
        restricted_z(newborn.head_circumference_cm, choice.head_curve) as head_z,
    from size_choice as choice
    inner join typed.admission as newborn using (row_id)
)

select
    row_id,
    arg_min(weight_z, abs(weight_z)) as weight_z,
    arg_min(length_z, abs(length_z)) as length_z,
    arg_min(head_z, abs(head_z)) as head_z,
    arg_min(head_z - length_z, abs(head_z - length_z)) as head_less_length_z,
from each_curve
group by row_id
