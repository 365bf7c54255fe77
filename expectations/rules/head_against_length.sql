/*
title        = "Head against length"
table        = "admission"
severity     = "query"
explanation  = "The head is large for the length. One of the two is probably misread or mistyped; measure or look up both."
gives_way_to = ["centimetre_slip"]
sources      = ["a ratio above 0.85 at 40 cm or more: our own limit, common practice, no published source"]
# error where the head is as long as the newborn or longer: impossible, and not known which of
# the two is wrong, so neither is used. query where the ratio alone is high: both are kept.

[parameters]
ratio_above     = 0.85
length_at_least = 40

[[examples]]
because = "38 cm of head with 44 cm of length at term: neither is odd alone, the pair is (0.864)"
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
a         | 280                  | 44        | 38
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
edge      | 280                  | 40        | 34
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
        newborn.head_circumference_cm >= newborn.length_cm as is_impossible,
        newborn.length_cm >= setting.length_at_least
            and newborn.head_circumference_cm > setting.ratio_above * newborn.length_cm
            as is_large,
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
),

odd as (
    select
        *,
        if(is_impossible, 'error', 'query') as severity,
        case
            when is_impossible
            then 'The head is as long as the newborn or longer, which cannot be. Head and length '
                || 'may have been swapped, or one of them is wrong; neither is used.'
        end as explanation,
    from pair
    where is_impossible or is_large
)

select
    row_id,
    'head_circumference_cm' as column_name,
    severity,
    explanation,
    if(
        is_impossible and fits_swapped,
        format('{:.1f} cm if head and length were swapped', length_cm),
        null
    ) as suggestion,
from odd
union all
select
    row_id,
    'length_cm' as column_name,
    severity,
    explanation,
    if(
        is_impossible and fits_swapped,
        format('{:.1f} cm if head and length were swapped', head_circumference_cm),
        null
    ) as suggestion,
from odd
