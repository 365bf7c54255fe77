/*
title        = "Gestation or weight"
table        = "admission"
severity     = "error"
gives_way_to = ["weight_unit_slip"]
explanation  = "The weight is far too high for this early a gestation. One of the two is wrong and it is not known which, so neither is used. Check both in the chart."
sources      = [
    "below 33 weeks 7.3 % of births in the US natality file of 2022 have such a weight, 2.3 per 10,000 at term: rather the gestation is wrong",
    "curves: pipelines/definitions/sizes.toml, or the unit's own reference. For screening data, not for assessing a child's growth.",
]
# Where length or head is as far out as the weight, the sizes agree with each other and only the
# gestation is left to blame; the weight is then kept as a query.

[parameters]
weight_above = 5
others_above = 4
below_days   = 231

[[examples]]
because = "a term weight at 28 weeks and nothing else known; the pound is the other thing to ask about"
given.admission = """
record_id | sex  | gestational_age_days | weight_g
a         | male | 196                  | 3300
"""
expect = """
record_id | column_name          | severity | suggestion
a         | gestational_age_days | error    | Check the gestation first.
a         | weight_g             | error    | 1497 g if it was pounds entered as kilograms; else check the gestation.
"""

[[examples]]
because = "all sizes are those of a term newborn: the gestation is wrong"
given.admission = """
record_id | sex  | gestational_age_days | weight_g | length_cm | head_circumference_cm
a         | male | 182                  | 3400     | 50        | 34.5
"""
expect = """
record_id | column_name          | severity
a         | gestational_age_days | error
a         | weight_g             | query
"""

[[examples]]
because = "z 4.9 at 28 weeks, z beyond 5 at 33 weeks, and a weight that fits are left alone"
given.admission = """
record_id | sex  | gestational_age_days | weight_g
within    | male | 196                  | 2500
later     | male | 238                  | 5400
usual     | male | 196                  | 1100
"""
expect = """
record_id | column_name
"""
*/
with heavy as (
    select
        newborn.row_id,
        newborn.weight_g * 0.45359237 as pounds_g,
        coalesce(greatest(size.length_z, size.head_z) > setting.others_above, false)
            as others_agree,
    from size_z as size
    inner join typed.admission as newborn using (row_id)
    inner join rule_setting as setting using (unit)
    where
        newborn.gestational_age_days < setting.below_days
        and size.weight_z > setting.weight_above
),

pounds as (
    select
        heavy.row_id,
        min(abs(restricted_z(heavy.pounds_g, choice.weight_curve))) < 3 as fits,
    from heavy
    inner join size_choice as choice using (row_id)
    group by heavy.row_id
)

select
    row_id,
    'gestational_age_days' as column_name,
    'error' as severity,
    if(
        others_agree,
        'Weight and the other sizes are those of a newborn born later. The gestation is probably '
            || 'wrong and is not used; check it in the chart.',
        null
    ) as explanation,
    'Check the gestation first.' as suggestion,
from heavy
union all
select
    heavy.row_id,
    'weight_g' as column_name,
    if(heavy.others_agree, 'query', 'error') as severity,
    if(
        heavy.others_agree,
        'Weight and the other sizes are those of a newborn born later. The gestation is probably '
            || 'the wrong one; the weight is kept.',
        null
    ) as explanation,
    if(
        pounds.fits and not heavy.others_agree,
        format(
            '{} g if it was pounds entered as kilograms; else check the gestation.',
            cast(round(heavy.pounds_g) as bigint)
        ),
        null
    ) as suggestion,
from heavy
inner join pounds using (row_id)
