/*
title       = "Birth weight in another unit, or a slipped digit"
table       = "admission"
severity    = "error"
explanation = "The weight does not fit, and would fit if another unit had been used or a digit had slipped. Check it on the chart or the scale's printout."
sources     = [
    "factors: international avoirdupois pound, 453.59237 g exactly (1959)",
    "curves: pipelines/definitions/sizes.toml, or the unit's own reference. For screening data, not for assessing a child's growth.",
    "a repaired z within 3 and within 2.5 of the other sizes: our own limits, common practice, no published source",
]
# A weight is doubtful outside the contract's error limits, beyond the z bounds of
# size_against_gestation, or far from the mean of the other sizes while these are usual (in z:
# more than 2.75 from two, 3.5 from one; chance 0.2 to 0.7 per 10,000 for two, computed from
# published correlations). Only a slip that
# passes the repair test is named: its z is small and near the z of the other sizes.
# error where the weight cannot be used; query where the gestation may be the wrong one.
# Without a curve (no gestation, or below 24 weeks) a repaired weight must lie within a span.

[parameters]
error_below   = -6
error_above   = 5
query_beyond  = 4
beyond_both   = 2.75
beyond_one    = 3.5
repaired_z    = 3
near_others   = 2.5
others_up_to  = 10

[[examples]]
because = "with gestation known, only the unit that fits it is suggested"
given.admission = """
record_id | weight_g | gestational_age_days
term      | 3.4      | 280
early     | 3.4      | 215
"""
expect = """
record_id | column_name | severity | suggestion
term      | weight_g    | error    | 3400 g if it was kilograms
early     | weight_g    | error    | 1542 g if it was pounds
"""

[[examples]]
because = "without gestation both that fit are listed"
given.admission = """
record_id | weight_g
a         | 3.4
"""
expect = """
record_id | column_name | severity | suggestion
a         | weight_g    | error    | 3400 g if it was kilograms; 1542 g if it was pounds
"""

[[examples]]
because = "grams or ounces entered in a kilogram column, already multiplied by 1,000; 120 ounces"
given.admission = """
record_id | weight_g | gestational_age_days
grams     | 3400000  | 280
ounces_kg | 120000   | 280
ounces    | 120      | 280
"""
expect = """
record_id | column_name | severity | suggestion
grams     | weight_g    | error    | 3400 g if it was grams in a kilogram column
ounces_kg | weight_g    | error    | 3402 g if it was ounces entered as kilograms
ounces    | weight_g    | error    | 3402 g if it was ounces
"""

[[examples]]
because = "pounds entered as kilograms: an error beyond z +5, a query up to there"
given.admission = """
record_id | sex  | weight_g | gestational_age_days
large     | male | 8800     | 280
usual     | male | 7500     | 280
small     | male | 5500     | 280
"""
expect = """
record_id | column_name | severity | suggestion
large     | weight_g    | error    | 3992 g if it was pounds entered as kilograms
usual     | weight_g    | error    | 3402 g if it was pounds entered as kilograms
small     | weight_g    | query    | 2495 g if it was pounds entered as kilograms
"""

[[examples]]
because = "a weight far from both other sizes, which agree with each other and with the repair"
given.admission = """
record_id | sex  | weight_g | gestational_age_days | length_cm | head_circumference_cm
pounds    | male | 2000     | 196                  | 36        | 25
kilograms | male | 1360     | 252                  | 46.5      | 32.4
large     | male | 1700     | 196                  | 39.5      | 27.2
"""
expect = """
record_id | column_name | severity | suggestion
pounds    | weight_g    | query    | 907 g if it was pounds entered as kilograms
kilograms | weight_g    | query    | 2998 g if it was kilograms in a pound column
"""

[[examples]]
because = "a repair that the other sizes speak against is not suggested"
given.admission = """
record_id | sex  | weight_g | gestational_age_days | length_cm | head_circumference_cm
fits      | male | 340      | 280                  | 50        | 34.5
against   | male | 340      | 280                  | 43        | 30
"""
expect = """
record_id | column_name | severity | suggestion
fits      | weight_g    | error    | 3400 g if a digit was dropped
"""

[[examples]]
because = "early, far too heavy and no other size to ask: the gestation may be wrong, another rule says so"
given.admission = """
record_id | weight_g | gestational_age_days | length_cm
alone     | 3300     | 196                  |
asked     | 3300     | 196                  | 40
"""
expect = """
record_id | column_name | severity | suggestion
asked     | weight_g    | error    | 1497 g if it was pounds entered as kilograms
"""

[[examples]]
because = "one digit too many or too few"
given.admission = """
record_id | weight_g | gestational_age_days
many      | 34000    | 280
few       | 340      | 280
"""
expect = """
record_id | column_name | severity | suggestion
many      | weight_g    | error    | 3400 g if a digit was added
few       | weight_g    | error    | 3400 g if a digit was dropped
"""

[[examples]]
because = "weights that fit their week, large or small, are left alone, and so is what no slip explains"
given.admission = """
record_id | weight_g | gestational_age_days | length_cm | head_circumference_cm
term      | 3400     | 280                  | 50        | 35
large     | 5200     | 290                  |           |
tiny      | 600      | 168                  |           |
smaller   | 350      | 157                  |           |
unknown   | 2500     |                      |           |
blank     |          | 280                  |           |
no_slip   | 15000    | 280                  |           |
"""
expect = """
record_id | column_name
"""
*/
with slip as (
    select *
    from (
        values
            (1, 'it was kilograms', 1000.0::double),
            (2, 'it was pounds', 453.59237::double),
            (3, 'it was ounces', 453.59237::double / 16),
            (4, 'it was pounds entered as kilograms', 0.45359237::double),
            (5, 'it was kilograms in a pound column', 1 / 0.45359237::double),
            (6, 'it was grams in a kilogram column', 0.001::double),
            (7, 'it was ounces entered as kilograms', 0.45359237::double / 16),
            (8, 'a digit was dropped', 10.0::double),
            (9, 'a digit was added', 0.1::double),
    ) as listed (place, words, factor)
),

weighed as (
    select
        newborn.row_id,
        coalesce(exact.weight_g, newborn.weight_g) as weight_g,
        newborn.gestational_age_days,
        size.weight_z,
        -- A size that is itself beyond belief says nothing about the weight.
        if(abs(size.length_z) <= setting.others_up_to, size.length_z, null) as length_z,
        if(abs(size.head_z) <= setting.others_up_to, size.head_z, null) as head_z,
        -- Below 24 weeks newborns are lighter than the query limit, and none is heavier than 900 g.
        newborn.gestational_age_days between 140 and 167 as is_before_24_weeks,
        if(is_before_24_weeks, usual.error_below, usual.query_below) as span_low_g,
        if(is_before_24_weeks, 900, usual.query_above) as span_high_g,
        newborn.weight_g not between usual.error_below and usual.error_above as is_impossible,
        setting.* exclude (unit),
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    inner join contract_limit as usual
        on usual.table_name = 'admission' and usual.column_name = 'weight_g'
    left join size_z as size using (row_id)
    left join weight_exact as exact using (row_id)
    where newborn.weight_g is not null
),

judged as (
    select
        *,
        is_impossible
        or coalesce(weight_z < error_below or weight_z > error_above, false) as is_error,
        coalesce(
            abs(weight_z) > query_beyond,
            weight_g not between span_low_g and span_high_g
            and not coalesce(is_before_24_weeks, false)
        ) as is_unusual,
        coalesce(
            greatest(abs(length_z), abs(head_z)) <= query_beyond
            and abs(weight_z - coalesce((length_z + head_z) / 2, length_z, head_z))
                > if(length_z + head_z is null, beyond_one, beyond_both),
            false
        ) as is_apart,
    from weighed
),

doubtful as (
    select *
    from judged
    where is_error or is_unusual or is_apart
),

repaired as (
    select
        doubtful.row_id,
        slip.place,
        restricted_z(doubtful.weight_g * slip.factor, choice.weight_curve) as z,
    from doubtful
    cross join slip
    inner join size_choice as choice using (row_id)
    where choice.weight_curve is not null
),

repaired_z as (
    select
        row_id,
        place,
        arg_min(z, abs(z)) as z,
    from repaired
    group by row_id, place
),

tried as (
    select
        doubtful.*,
        slip.place,
        slip.words,
        doubtful.weight_g * slip.factor as repaired_g,
        repaired_z.z,
        coalesce(abs(repaired_z.z - doubtful.length_z) <= near_others, true)
        and coalesce(abs(repaired_z.z - doubtful.head_z) <= near_others, true) as agrees,
        length_z is not null or head_z is not null as has_others,
    from doubtful
    cross join slip
    left join repaired_z using (row_id, place)
),

fitting as (
    select *
    from tried
    where
        case
            when z is null
            then is_error or is_unusual
                and repaired_g between span_low_g and span_high_g
            else abs(z) < repaired_z
                and agrees
                -- Early and too heavy with nothing to ask: rather the gestation is wrong.
                and (
                    has_others
                    or is_impossible
                    or gestational_age_days >= 231
                    or weight_z < error_above
                )
        end
        and repaired_g between span_low_g and span_high_g
)

select
    row_id,
    'weight_g' as column_name,
    if(bool_or(is_error), 'error', 'query') as severity,
    string_agg(
        format('{} g if {}', cast(round(repaired_g) as bigint), words),
        '; ' order by abs(z - coalesce((length_z + head_z) / 2, length_z, head_z, 0)), place
    ) as suggestion,
from fitting
group by row_id
