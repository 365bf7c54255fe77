/*
title               = "Size against gestation"
table               = "admission"
severity            = "error"
gives_way_to        = ["gestation_or_weight"]
gives_way_to_causes = true
explanation         = "The measure lies far outside what is seen at this gestation. Check the measure and the gestation in the chart."
sources             = [
    "z below -6 or above +5 for weight, beyond 6 for length and 5 for head: flags of the WHO Child Growth Standards 2006",
    "z beyond 4: 0.09 % of live births, and sick newborns among them (Joseph 2001, Am J Epidemiol 153:110), so a query that keeps the value",
    "curves: pipelines/definitions/sizes.toml, or the unit's own reference. For screening data, not for assessing a child's growth.",
]
# Restricted z-scores by gestation in days and sex; the milder curve where the sex is not known or
# two published parts meet (32+0 to 33+6). None below 24 weeks.

[parameters]
weight_error_below = -6
weight_error_above = 5
length_error_below = -6
length_error_above = 6
head_error_below   = -5
head_error_above   = 5
query_beyond       = 4

[[examples]]
because = "at 40+0 a boy of 6,040 g has z 5.1 and one of 5,960 g z 4.9: the standard's upper tail of weight is long; at 5,400 g z 3.9, at 4,200 g z 1.8"
given.admission = """
record_id | sex  | gestational_age_days | weight_g
beyond    | male | 280                  | 6040
within    | male | 280                  | 5960
large     | male | 280                  | 5400
usual     | male | 280                  | 4200
"""
expect = """
record_id | column_name | severity
beyond    | weight_g    | error
within    | weight_g    | query
"""

[[examples]]
because = "length and head have bounds of their own"
given.admission = """
record_id  | sex    | gestational_age_days | length_cm | head_circumference_cm
short      | female | 280                  | 39.2      |
very_short | female | 280                  | 38.7      |
large      | female | 280                  |           | 39
very_large | female | 280                  |           | 39.5
"""
expect = """
record_id  | column_name           | severity
short      | length_cm             | error
very_short | length_cm             | error
large      | head_circumference_cm | query
very_large | head_circumference_cm | error
"""

[[examples]]
because = "where the sex is not known the milder of both curves counts"
given.admission = """
record_id | sex     | gestational_age_days | weight_g
girl      | female  | 280                  | 5500
unknown   | unknown | 280                  | 5500
blank     |         | 280                  | 5500
"""
expect = """
record_id | column_name | severity
girl      | weight_g    | query
unknown   | weight_g    | query
blank     | weight_g    | query
"""

[[examples]]
because = "below 24 weeks, without gestation, and at 43 weeks as at 42+6: usual sizes are left alone"
given.admission = """
record_id | sex    | gestational_age_days | weight_g | length_cm | head_circumference_cm
tiny      | female | 160                  | 480      | 28        | 20
undated   | male   |                      | 3400     | 50        | 35
late      | male   | 304                  | 3700     | 51        | 35
seam      | male   | 230                  | 1200     | 38        | 28
"""
expect = """
record_id | column_name
"""
*/
with sized as (
    select
        newborn.row_id,
        unnest([
            {
                'column_name': 'weight_g',
                'z': size.weight_z,
                'error_below': setting.weight_error_below,
                'error_above': setting.weight_error_above,
            },
            {
                'column_name': 'length_cm',
                'z': size.length_z,
                'error_below': setting.length_error_below,
                'error_above': setting.length_error_above,
            },
            {
                'column_name': 'head_circumference_cm',
                'z': size.head_z,
                'error_below': setting.head_error_below,
                'error_above': setting.head_error_above,
            },
        ], recursive := true),
        setting.query_beyond,
    from size_z as size
    inner join typed.admission as newborn using (row_id)
    inner join rule_setting as setting using (unit)
    where greatest(abs(size.weight_z), abs(size.length_z), abs(size.head_z)) > setting.query_beyond
)

select
    row_id,
    column_name,
    if(z < error_below or z > error_above, 'error', 'query') as severity,
    case
        when z < error_below or z > error_above
        then 'The measure lies so far outside what is seen at this gestation that it is not used. '
            || 'Check the measure and the gestation in the chart.'
        else 'The measure is rare at this gestation. Sick newborns are among such, so it is kept; '
            || 'check the measure and the gestation in the chart.'
    end as explanation,
from sized
where abs(z) > query_beyond or z < error_below or z > error_above
