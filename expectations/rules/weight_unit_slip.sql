/*
title       = "Birth weight in another unit, or a slipped digit"
table       = "admission"
severity    = "error"
explanation = "The weight does not fit, and would fit if another unit had been used or a digit had slipped. Check it on the chart or the scale's printout."
sources     = [
    "factors: international avoirdupois pound, 453.59237 g exactly (1959)",
    "bands of weight by week: our own, deliberately broad; common practice, no published source. For screening data, not for assessing a newborn's growth.",
]
# error where the weight lies outside the error limits of the contract (it cannot be used);
# query where it lies inside them, for there the gestation may be the wrong one.

[[examples]]
because = "with gestation known, only the unit that fits it is suggested"
given.admission = """
record_id | weight_g | gestational_age_days
term      | 3.4      | 280
early     | 3.4      | 215
"""
expect = """
record_id | column_name | severity | suggestion
term      | weight_g    | error    | 3,400 g if it was kilograms
early     | weight_g    | error    | 1,542 g if it was pounds
"""

[[examples]]
because = "without gestation both that fit are listed"
given.admission = """
record_id | weight_g
a         | 3.4
"""
expect = """
record_id | column_name | severity | suggestion
a         | weight_g    | error    | 3,400 g if it was kilograms; 1,542 g if it was pounds
"""

[[examples]]
because = "grams entered in a kilogram column, already multiplied by 1,000"
given.admission = """
record_id | weight_g | gestational_age_days
a         | 3400000  | 280
"""
expect = """
record_id | column_name | severity | suggestion
a         | weight_g    | error    | 3,400 g if it was grams in a kilogram column
"""

[[examples]]
because = "120 ounces are 3,402 g"
given.admission = """
record_id | weight_g | gestational_age_days
a         | 120      | 280
"""
expect = """
record_id | column_name | severity | suggestion
a         | weight_g    | error    | 3,402 g if it was ounces
"""

[[examples]]
because = "pounds entered as kilograms: beyond 8,200 g an error, up to there a query"
given.admission = """
record_id | weight_g | gestational_age_days
large     | 8800     | 280
usual     | 7500     | 280
early     | 3300     | 210
"""
expect = """
record_id | column_name | severity | suggestion
large     | weight_g    | error    | 3,992 g if it was pounds entered as kilograms
usual     | weight_g    | query    | 3,402 g if it was pounds entered as kilograms
early     | weight_g    | query    | 1,497 g if it was pounds entered as kilograms
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
many      | weight_g    | error    | 3,400 g if a digit was added
few       | weight_g    | query    | 3,400 g if a digit was dropped
"""

[[examples]]
because = "weights that fit their week, large or small, are left alone, and so is what no slip explains"
given.admission = """
record_id | weight_g | gestational_age_days
term      | 3400     | 280
large     | 5400     | 290
tiny      | 600      | 168
unknown   | 2500     |
blank     |          | 280
no_slip   | 15000    | 280
"""
expect = """
record_id | column_name
"""
*/
with band as (
    select *
    from (
        values
            (20, 23, 200, 900),
            (24, 27, 300, 1700),
            (28, 30, 450, 2300),
            (31, 32, 600, 3000),
            (33, 34, 800, 3800),
            (35, 36, 1100, 4500),
            (37, 38, 1500, 5200),
            (39, 46, 1800, 6000),
    ) as by_week (from_week, to_week, low_g, high_g)
),

slip as (
    select *
    from (
        values
            (1, 'it was kilograms', 1000.0),
            (2, 'it was pounds', 453.59237),
            (3, 'it was ounces', 28.349523125),
            (4, 'it was pounds entered as kilograms', 0.45359237),
            (5, 'it was grams in a kilogram column', 0.001),
            (6, 'a digit was dropped', 10.0),
            (7, 'a digit was added', 0.1),
    ) as listed (place, words, factor)
),

weighed as (
    select
        newborn.row_id,
        newborn.weight_g,
        -- Without gestation, the span of the contract's query limits.
        coalesce(band.low_g, usual.query_below) as low_g,
        coalesce(band.high_g, usual.query_above) as high_g,
        newborn.weight_g not between usual.error_below and usual.error_above as is_impossible,
        newborn.weight_g > usual.query_above as is_unusual,
    from typed.admission as newborn
    inner join contract_limit as usual
        on usual.table_name = 'admission' and usual.column_name = 'weight_g'
    left join band
        on newborn.gestational_age_days // 7 between band.from_week and band.to_week
    where newborn.weight_g is not null
),

doubtful as (
    select *
    from weighed
    where is_impossible or is_unusual or weight_g not between low_g and high_g
)

select
    doubtful.row_id,
    'weight_g' as column_name,
    if(doubtful.is_impossible, 'error', 'query') as severity,
    string_agg(
        format('{:,} g if {}', cast(round(doubtful.weight_g * slip.factor) as bigint), slip.words),
        '; ' order by slip.place
    ) as suggestion,
from doubtful
inner join slip
    on doubtful.weight_g * slip.factor between doubtful.low_g and doubtful.high_g
group by doubtful.row_id, doubtful.is_impossible
