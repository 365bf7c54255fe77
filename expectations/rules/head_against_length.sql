/*
title        = "Head against length"
table        = "admission"
severity     = "query"
explanation  = "Head and length do not go together. One of the two is probably misread or mistyped; measure or look up both."
gives_way_to = ["centimetre_slip", "gestation_or_weight"]
sources      = [
    "z of the head and of the length more than 5 or 4 apart: our own limits; 0 to 0.8 per 10,000 true pairs, computed at correlations of 0.4 to 0.5",
    "a ratio above 0.85 at 40 cm or more: our own limit, common practice, no published source",
    "curves: pipelines/definitions/sizes.toml, or the unit's own reference. For screening data, not for assessing a child's growth.",
]
# error where the head is as long as the newborn or longer, or the z-scores are far apart: not
# both can be true, and not known which of the two is wrong, so neither is used. query where they
# are less far apart, or the ratio alone is high: both are kept.

[parameters]
error_apart     = 5
query_apart     = 4
ratio_above     = 0.85
length_at_least = 40

[[examples]]
because = "38 cm of head with 44 cm of length at term: neither is beyond 4 alone, the pair is 6.1 or 6.3 apart"
given.admission = """
record_id | sex    | gestational_age_days | length_cm | head_circumference_cm
boy       | male   | 280                  | 44        | 38
girl      | female | 280                  | 44        | 38
"""
expect = """
record_id | column_name           | severity
boy       | head_circumference_cm | error
boy       | length_cm             | error
girl      | head_circumference_cm | error
girl      | length_cm             | error
"""

[[examples]]
because = "a boy at 40+0 with 36 cm of head: 44.6 cm of length is 4.7 apart, 46 cm is 3.8; a small head counts too"
given.admission = """
record_id | sex  | gestational_age_days | length_cm | head_circumference_cm
query     | male | 280                  | 44.6      | 36
within    | male | 280                  | 46        | 36
small     | male | 280                  | 53        | 31
"""
expect = """
record_id | column_name           | severity
query     | head_circumference_cm | query
query     | length_cm             | query
small     | head_circumference_cm | query
small     | length_cm             | query
"""

[[examples]]
because = "without gestation the ratio remains: 38 / 44 is 0.864"
given.admission = """
record_id | length_cm | head_circumference_cm
a         | 44        | 38
"""
expect = """
record_id | column_name           | severity
a         | head_circumference_cm | query
a         | length_cm             | query
"""

[[examples]]
because = "a head as long as the newborn is impossible; swapped, where swapping fits"
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
swapped   | 280                  | 34        | 50
equal     | 280                  | 41        | 41
"""
expect = """
record_id | column_name           | severity | suggestion
swapped   | head_circumference_cm | error    | 34.0 cm if head and length were swapped
swapped   | length_cm             | error    | 50.0 cm if head and length were swapped
equal     | head_circumference_cm | error    |
equal     | length_cm             | error    |
"""

[[examples]]
because = "a length in inches is a slip of the length; the head is not to blame"
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
a         | 280                  | 20        | 34
"""
expect = """
record_id | column_name
"""

[[examples]]
because = "a ratio of exactly 0.85, a short preterm newborn and a missing measure are left alone"
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
edge      |                      | 40        | 34
usual     | 280                  | 50        | 35
early     | 196                  | 30        | 26
one       | 280                  |           | 38
"""
expect = """
record_id | column_name
"""

[[examples]]
because = "a unit may set its own ratio"
numbers = { ratio_above = 0.75 }
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
a         | 280                  | 50        | 38
"""
expect = """
record_id | column_name
a         | head_circumference_cm
a         | length_cm
"""
*/
with pair as (
    select
        newborn.row_id,
        newborn.length_cm,
        newborn.head_circumference_cm,
        abs(size.head_less_length_z) as apart,
        newborn.head_circumference_cm >= newborn.length_cm as is_impossible,
        coalesce(abs(size.head_less_length_z) > setting.error_apart, false) as is_far_apart,
        coalesce(abs(size.head_less_length_z) > setting.query_apart, false)
        or newborn.length_cm >= setting.length_at_least
        and newborn.head_circumference_cm > setting.ratio_above * newborn.length_cm as is_odd,
        newborn.length_cm between head.query_below and head.query_above
        and newborn.head_circumference_cm between length.query_below and length.query_above
        and newborn.length_cm <= setting.ratio_above * newborn.head_circumference_cm
            as fits_swapped,
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    inner join contract_limit as head
        on head.table_name = 'admission' and head.column_name = 'head_circumference_cm'
    inner join contract_limit as length
        on length.table_name = 'admission' and length.column_name = 'length_cm'
    left join size_z as size using (row_id)
    where newborn.length_cm is not null and newborn.head_circumference_cm is not null
),

odd as (
    select *
    from pair
    where is_impossible or is_far_apart or is_odd
),

swapped as (
    select
        odd.row_id,
        min(
            greatest(
                abs(restricted_z(odd.length_cm, choice.head_curve)),
                abs(restricted_z(odd.head_circumference_cm, choice.length_curve))
            )
        ) as z,
    from odd
    inner join size_choice as choice using (row_id)
    where odd.is_impossible
    group by odd.row_id
),

told as (
    select
        odd.*,
        if(is_impossible or is_far_apart, 'error', 'query') as severity,
        case
            when is_impossible
            then 'The head is as long as the newborn or longer, which cannot be. Head and length '
                || 'may have been swapped, or one of them is wrong; neither is used.'
            when is_far_apart
            then 'Head and length cannot both be true. One of the two is misread or mistyped and '
                || 'it is not known which, so neither is used; measure or look up both.'
        end as explanation,
        -- Up to 4: newborns far from their week may be swapped too.
        is_impossible and if(swapped.z is null, fits_swapped, swapped.z < 4) as is_swapped,
    from odd
    left join swapped using (row_id)
)

select
    row_id,
    'head_circumference_cm' as column_name,
    severity,
    explanation,
    if(is_swapped, format('{:.1f} cm if head and length were swapped', length_cm), null)
        as suggestion,
from told
union all
select
    row_id,
    'length_cm' as column_name,
    severity,
    explanation,
    if(is_swapped, format('{:.1f} cm if head and length were swapped', head_circumference_cm), null)
        as suggestion,
from told
