/*
title       = "Length or head in another unit, or a slipped decimal point"
table       = "admission"
severity    = "error"
explanation = "The measure does not fit, and would fit if another unit had been used or the decimal point had slipped. Check it on the chart."
sources     = [
    "factor: international inch, 2.54 cm exactly (1959)",
    "curves: pipelines/definitions/sizes.toml, or the unit's own reference. For screening data, not for assessing a child's growth.",
    "a repaired z within 3 and within 2.5 of the other sizes: our own limits, common practice, no published source",
]
# A measure is doubtful outside the contract's error limits or beyond the z bounds of
# size_against_gestation. Only a slip that passes the repair test is named: its z is small and
# near the z of the other sizes.
# error where the measure cannot be used; query where the gestation may be the wrong one.
# Without a curve (no gestation, or below 24 weeks) a repaired measure must lie within the query
# limits of the contract.

[parameters]
length_error_beyond = 6
head_error_beyond   = 5
query_beyond        = 4
repaired_z          = 3
near_others         = 2.5
others_up_to        = 10

[[examples]]
because = "inches in a centimetre column; 20 cm of length is within the contract's limits, yet beyond z -6"
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
head      | 280                  | 50.8      | 13.5
length    | 280                  | 19.75     | 34
inside    | 280                  | 20        | 34
"""
expect = """
record_id | column_name           | severity | suggestion
head      | head_circumference_cm | error    | 34.3 cm if it was inches
length    | length_cm             | error    | 50.2 cm if it was inches
inside    | length_cm             | error    | 50.8 cm if it was inches
"""

[[examples]]
because = "centimetres in an inch column, already multiplied by 2.54"
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
a         | 280                  | 127       | 86.36
"""
expect = """
record_id | column_name           | severity | suggestion
a         | length_cm             | error    | 50.0 cm if it was centimetres in an inch column
a         | head_circumference_cm | error    | 34.0 cm if it was centimetres in an inch column
"""

[[examples]]
because = "millimetres, metres, and the decimal point one place off"
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
mm        | 280                  | 505       | 345
point     | 280                  | 5.05      | 3.45
metres    | 280                  | 0.5       | 34
"""
expect = """
record_id | column_name           | severity | suggestion
mm        | length_cm             | error    | 50.5 cm if it was millimetres or the decimal point is missing
mm        | head_circumference_cm | error    | 34.5 cm if it was millimetres or the decimal point is missing
point     | length_cm             | error    | 50.5 cm if the decimal point is one place too far left
point     | head_circumference_cm | error    | 34.5 cm if the decimal point is one place too far left
metres    | length_cm             | error    | 50.0 cm if it was metres
"""

[[examples]]
because = "a repair that the other sizes speak against is not suggested"
given.admission = """
record_id | sex  | gestational_age_days | weight_g | length_cm | head_circumference_cm
fits      | male | 280                  | 3400     | 19.7      | 34.5
against   | male | 280                  | 2300     | 21        | 31.5
"""
expect = """
record_id | column_name | severity | suggestion
fits      | length_cm   | error    | 50.0 cm if it was inches
"""

[[examples]]
because = "without gestation only an impossible measure is repaired"
given.admission = """
record_id | length_cm
inches    | 19.7
small     | 27
"""
expect = """
record_id | column_name | severity | suggestion
inches    | length_cm   | error    | 50.0 cm if it was inches
"""

[[examples]]
because = "sizes that fit their week, and what no slip explains, are left alone"
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
term      | 280                  | 50        | 34.5
early     | 168                  | 31        | 22
unknown   |                      | 47        | 33
blank     | 280                  |           |
swapped   | 280                  | 34        | 50
"""
expect = """
record_id | column_name
"""
*/
with slip as (
    select *
    from (
        values
            (1, 'it was inches', 2.54::double),
            (2, 'it was centimetres in an inch column', 1 / 2.54::double),
            (3, 'it was millimetres or the decimal point is missing', 0.1::double),
            (4, 'the decimal point is one place too far left', 10.0::double),
            (5, 'it was metres', 100.0::double),
    ) as listed (place, words, factor)
),

measured as (
    select
        newborn.row_id,
        -- A size that is itself beyond belief says nothing about another.
        if(abs(size.weight_z) <= setting.others_up_to, size.weight_z, null) as weight_z,
        setting.* exclude (unit),
        unnest([
            {
                'column_name': 'length_cm',
                'size_cm': newborn.length_cm,
                'z': size.length_z,
                'other_z': size.head_z,
                'error_beyond': setting.length_error_beyond,
            },
            {
                'column_name': 'head_circumference_cm',
                'size_cm': newborn.head_circumference_cm,
                'z': size.head_z,
                'other_z': size.length_z,
                'error_beyond': setting.head_error_beyond,
            },
        ], recursive := true),
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    left join size_z as size using (row_id)
),

judged as (
    select
        measured.* exclude (other_z),
        if(abs(other_z) <= others_up_to, other_z, null) as other_z,
        size_cm not between usual.error_below and usual.error_above
        or coalesce(abs(z) > error_beyond, false) as is_error,
        coalesce(abs(z) > query_beyond, false) as is_unusual,
        usual.query_below,
        usual.query_above,
    from measured
    inner join contract_limit as usual
        on usual.table_name = 'admission' and usual.column_name = measured.column_name
    where size_cm is not null
),

doubtful as (
    select *
    from judged
    where is_error or is_unusual
),

repaired as (
    select
        doubtful.row_id,
        doubtful.column_name,
        slip.place,
        restricted_z(
            doubtful.size_cm * slip.factor,
            if(doubtful.column_name = 'length_cm', choice.length_curve, choice.head_curve)
        ) as z,
    from doubtful
    cross join slip
    inner join size_choice as choice using (row_id)
),

repaired_z as (
    select
        row_id,
        column_name,
        place,
        arg_min(z, abs(z)) as z_repaired,
    from repaired
    group by row_id, column_name, place
),

fitting as (
    select
        doubtful.*,
        slip.place,
        slip.words,
        doubtful.size_cm * slip.factor as repaired_cm,
        repaired_z.z_repaired,
    from doubtful
    cross join slip
    left join repaired_z using (row_id, column_name, place)
    where
        doubtful.size_cm * slip.factor between doubtful.query_below and doubtful.query_above
        and coalesce(abs(z_repaired) < doubtful.repaired_z, true)
        and coalesce(abs(z_repaired - doubtful.weight_z) <= doubtful.near_others, true)
        and coalesce(abs(z_repaired - doubtful.other_z) <= doubtful.near_others, true)
)

select
    row_id,
    column_name,
    if(bool_or(is_error), 'error', 'query') as severity,
    string_agg(
        format('{:.1f} cm if {}', repaired_cm, words),
        '; ' order by abs(z_repaired - coalesce((weight_z + other_z) / 2, weight_z, other_z, 0)),
        place
    ) as suggestion,
from fitting
group by row_id, column_name
