/*
title        = "Head against length"
table        = "admission"
severity     = "query"
explanation  = "Head and length do not go together. One of the two is probably misread or mistyped; measure or look up both."
gives_way_to = ["centimetre_slip", "gestation_or_weight"]
sources      = [
    "z of the head and of the length more than 5 or 4 apart: our own limits; 0 to 0.8 per 10,000 true pairs, computed at correlations of 0.4 to 0.5",
    "fits within 2.5, does not fit beyond 4 of the weight's z: our own limits; about 3 and 5 standard deviations of the difference at correlations of 0.65 to 0.7",
    "a ratio above 0.85 at 40 cm or more: our own limit, common practice, no published source",
    "curves: pipelines/definitions/sizes.toml, or the unit's own reference. For screening data, not for assessing a child's growth.",
]
# Where one of the two fits the weight (or, without a weight, the gestation) and the other does not,
# the one that does not is an error and the other is left alone. Where that cannot be told, both are
# kept and queried; but a head as long as the newborn or longer cannot be, so then neither is used.
# A weight that is itself beyond query_apart tells nothing: the newborn may be as unusual as that.

[parameters]
error_apart     = 5
query_apart     = 4
fits_within     = 2.5
ratio_above     = 0.85
length_at_least = 40

[[examples]]
because = "a length 10 cm short at term, with weight and without: the head fits and stays; the same of a head 6 cm too large"
given.admission = """
record_id  | sex  | gestational_age_days | weight_g | length_cm | head_circumference_cm
short      | male | 280                  | 3400     | 40        | 34.5
no_weight  | male | 280                  |          | 40        | 34.5
large_head | male | 280                  | 3400     | 50        | 41
"""
expect = """
record_id  | column_name           | severity
short      | length_cm             | error
no_weight  | length_cm             | error
large_head | head_circumference_cm | error
"""

[[examples]]
because = "38 cm of head with 44 cm of length at term: neither is beyond 4 alone, the pair is 6.1 or 6.3 apart, and nothing tells which it is; nor does a weight that is as far off"
given.admission = """
record_id | sex    | gestational_age_days | weight_g | length_cm | head_circumference_cm
boy       | male   | 280                  |          | 44        | 38
girl      | female | 280                  |          | 44        | 38
slight    | male   | 280                  | 1600     | 39        | 33.5
"""
expect = """
record_id | column_name           | severity
boy       | head_circumference_cm | query
boy       | length_cm             | query
girl      | head_circumference_cm | query
girl      | length_cm             | query
slight    | head_circumference_cm | query
slight    | length_cm             | query
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
        case
            when newborn.weight_g is null then 0
            when abs(size.weight_z) <= setting.query_apart then size.weight_z
        end as usual_z,
        coalesce(abs(size.head_z - usual_z) <= setting.fits_within, false) as head_fits,
        coalesce(abs(size.length_z - usual_z) <= setting.fits_within, false) as length_fits,
        coalesce(abs(size.head_z - usual_z) > setting.query_apart, false) as head_is_off,
        coalesce(abs(size.length_z - usual_z) > setting.query_apart, false) as length_is_off,
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
        is_far_apart and length_fits and head_is_off as is_head,
        is_far_apart and head_fits and length_is_off as is_length,
        -- Up to 4: newborns far from their week may be swapped too.
        is_impossible and if(swapped.z is null, fits_swapped, swapped.z < 4) as is_swapped,
        (is_head or is_length) and not is_swapped as is_one,
        if(is_impossible or is_one, 'error', 'query') as severity,
        case
            when is_one
            then 'Head and length cannot both be true, and the other one fits the newborn. This '
                || 'one is not used; measure or look it up.'
            when is_impossible
            then 'The head is as long as the newborn or longer, which cannot be. Head and length '
                || 'may have been swapped, or one of them is wrong; neither is used.'
            when is_far_apart
            then 'Head and length can hardly both be true. One of the two is probably misread or '
                || 'mistyped and it is not known which, so both are kept; measure or look up both.'
        end as explanation,
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
where not is_one or is_head
union all
select
    row_id,
    'length_cm' as column_name,
    severity,
    explanation,
    if(is_swapped, format('{:.1f} cm if head and length were swapped', head_circumference_cm), null)
        as suggestion,
from told
where not is_one or is_length
