/*
title       = "Length or head in another unit, or a slipped decimal point"
table       = "admission"
severity    = "error"
explanation = "The measure does not fit, and would fit if another unit had been used or the decimal point had slipped. Check it on the chart."
sources     = [
    "factor: international inch, 2.54 cm exactly (1959)",
    "bands of length and head by week: our own, deliberately broad; common practice, no published source. For screening data, not for assessing a newborn's growth.",
]
# error where the measure lies outside the error limits of the contract (it cannot be used);
# query where it lies inside them, for there the gestation may be the wrong one.

[[examples]]
because = "inches in a centimetre column; 20 cm of length is within the error limits, so a query"
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
inside    | length_cm             | query    | 50.8 cm if it was inches
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
with band as (
    select *
    from (
        values
            ('length_cm', 20, 23, 22, 36),
            ('length_cm', 24, 27, 25, 42),
            ('length_cm', 28, 32, 29, 48),
            ('length_cm', 33, 36, 36, 54),
            ('length_cm', 37, 46, 40, 60),
            ('head_circumference_cm', 20, 23, 15, 26),
            ('head_circumference_cm', 24, 27, 17, 30),
            ('head_circumference_cm', 28, 32, 20, 35),
            ('head_circumference_cm', 33, 36, 25, 38),
            ('head_circumference_cm', 37, 46, 28, 42),
    ) as by_week (column_name, from_week, to_week, low_cm, high_cm)
),

slip as (
    select *
    from (
        values
            (1, 'it was inches', 2.54),
            (2, 'it was centimetres in an inch column', 1 / 2.54),
            (3, 'it was millimetres or the decimal point is missing', 0.1),
            (4, 'the decimal point is one place too far left', 10.0),
            (5, 'it was metres', 100.0),
    ) as listed (place, words, factor)
),

sized as (
    select
        row_id,
        gestational_age_days,
        'length_cm' as column_name,
        length_cm as size_cm,
    from typed.admission
    union all
    select
        row_id,
        gestational_age_days,
        'head_circumference_cm' as column_name,
        head_circumference_cm as size_cm,
    from typed.admission
),

measured as (
    select
        sized.row_id,
        sized.column_name,
        sized.size_cm,
        -- Without gestation, the span of the contract's query limits.
        coalesce(band.low_cm, usual.query_below) as low_cm,
        coalesce(band.high_cm, usual.query_above) as high_cm,
        sized.size_cm not between usual.error_below and usual.error_above as is_impossible,
    from sized
    inner join contract_limit as usual
        on usual.table_name = 'admission' and usual.column_name = sized.column_name
    left join band
        on band.column_name = sized.column_name
        and sized.gestational_age_days // 7 between band.from_week and band.to_week
    where sized.size_cm is not null
),

doubtful as (
    select *
    from measured
    where is_impossible or size_cm not between low_cm and high_cm
)

select
    doubtful.row_id,
    doubtful.column_name,
    if(doubtful.is_impossible, 'error', 'query') as severity,
    string_agg(
        format('{:.1f} cm if {}', cast(doubtful.size_cm * slip.factor as double), slip.words),
        '; ' order by slip.place
    ) as suggestion,
from doubtful
inner join slip
    on doubtful.size_cm * slip.factor between doubtful.low_cm and doubtful.high_cm
group by doubtful.row_id, doubtful.column_name, doubtful.is_impossible
