/*
title        = "A whole month of sizes in another unit of measurement"
table        = "admission"
severity     = "error"
whole_column = true
explanation  = "The sizes of this month are far from what is seen, as a whole. The column is probably in another unit of measurement than the unit file says."
sources      = [
    "factors: international pound, 453.59237 g, and inch, 2.54 cm, exactly (1959)",
    "20 newborns, median z beyond 3, and a median within 1 in the unit named: our own limits, common practice, no published source",
    "curves: pipelines/definitions/sizes.toml, or the unit's own reference. For screening data, not for assessing a child's growth.",
]
# Per unit, month of birth and size. Where fewer than at_least newborns of the month have a
# gestation, all are read as if born at 40+0, and the explanation says so.

[parameters]
at_least       = 20
beyond         = 3
within         = 1

[[examples]]
because = "twenty weights of about 3.4 kg, read as pounds entered as kilograms; nineteen say nothing"
numbers = { at_least = 4 }
given.admission = """
record_id | birth_month | gestational_age_days | sex    | weight_g
a         | 2025-03-01  | 280                  | male   | 7300
b         | 2025-03-01  | 275                  | female | 6900
c         | 2025-03-01  | 286                  | male   | 7900
d         | 2025-03-01  | 270                  | female | 7100
e         | 2025-04-01  | 280                  | male   | 7300
f         | 2025-04-01  | 275                  | female | 6900
g         | 2025-04-01  | 286                  | male   | 7900
"""
expect = """
record_id | column_name | severity | explanation                                                                                                        | suggestion
          | weight_g    | error    | March 2025: the weights of 4 newborns are, as a whole, far from what is seen. They fit if the column holds pounds. | Set unit = "[lb_av]" for this column in the unit file, if the unit confirms it: it was read as kilograms.
"""

[[examples]]
because = "without gestation the term range is used, and it says so; ounces read as grams"
numbers = { at_least = 4 }
given.admission = """
record_id | sex    | weight_g
a         | male   | 124
b         | female | 117
c         | male   | 119
d         |        | 105
"""
expect = """
record_id | column_name | explanation                                                                                                                                                                                        | suggestion
          | weight_g    | March 2025: the weights of 4 newborns are, as a whole, far from what is seen. They fit if the column holds ounces. Few have a gestation, so all were compared with newborns at 40 completed weeks. | Set unit = "[oz_av]" for this column in the unit file, if the unit confirms it: it was read as grams.
"""

[[examples]]
because = "lengths in inches; what no unit explains is still said"
numbers = { at_least = 3 }
given.admission = """
record_id | gestational_age_days | length_cm | head_circumference_cm
a         | 280                  | 19.7      | 60
b         | 275                  | 19.1      | 61
c         | 286                  | 20.5      | 62
"""
expect = """
record_id | column_name           | suggestion
          | length_cm             | Set unit = "[in_i]" for this column in the unit file, if the unit confirms it: it was read as centimetres.
          | head_circumference_cm | Ask the unit in which unit of measurement this column is kept.
"""

[[examples]]
because = "a month of usual sizes, one of small newborns, and one with a few slips are left alone"
numbers = { at_least = 3 }
given.admission = """
record_id | birth_month | gestational_age_days | weight_g
a         | 2025-03-01  | 280                  | 3400
b         | 2025-03-01  | 275                  | 3100
c         | 2025-03-01  | 286                  | 7900
d         | 2025-04-01  | 200                  | 800
e         | 2025-04-01  | 196                  | 900
f         | 2025-04-01  | 190                  | 700
"""
expect = """
record_id | column_name
"""
*/
with unit_of_measurement as (
    select *
    from (
        values
            ('weight_g', 'weights', 'kilograms', 'kg', 1000.0::double),
            ('weight_g', 'weights', 'grams', 'g', 1.0::double),
            ('weight_g', 'weights', 'pounds', '[lb_av]', 453.59237::double),
            ('weight_g', 'weights', 'ounces', '[oz_av]', 453.59237::double / 16),
            ('length_cm', 'lengths', 'centimetres', 'cm', 1.0::double),
            ('length_cm', 'lengths', 'millimetres', 'mm', 0.1::double),
            ('length_cm', 'lengths', 'metres', 'm', 100.0::double),
            ('length_cm', 'lengths', 'inches', '[in_i]', 2.54::double),
            ('head_circumference_cm', 'heads', 'centimetres', 'cm', 1.0::double),
            ('head_circumference_cm', 'heads', 'millimetres', 'mm', 0.1::double),
            ('head_circumference_cm', 'heads', 'metres', 'm', 100.0::double),
            ('head_circumference_cm', 'heads', 'inches', '[in_i]', 2.54::double),
    ) as listed (column_name, plural, words, code, factor)
),

-- What a column holds against what it was read as.
slip as (
    select
        truth.column_name,
        truth.words as truth_words,
        truth.code,
        assumed.words as assumed_words,
        truth.factor / assumed.factor as factor,
    from unit_of_measurement as truth
    inner join unit_of_measurement as assumed
        on assumed.column_name = truth.column_name and assumed.code <> truth.code
),

-- Where there is no gestation: the curve at 40+0, of a boy where the sex is not known.
term as (
    select
        unit,
        sex,
        weight_curve,
        length_curve,
        head_curve,
    from size_curve
    where gestational_age_days = 280
),

sized as (
    select
        newborn.row_id,
        newborn.unit,
        newborn.birth_month,
        setting.at_least,
        setting.beyond,
        setting.within,
        unnest([
            {
                'column_name': 'weight_g',
                'size': newborn.weight_g,
                'own_z': size.weight_z,
                'term_z': restricted_z(newborn.weight_g, term.weight_curve),
            },
            {
                'column_name': 'length_cm',
                'size': newborn.length_cm,
                'own_z': size.length_z,
                'term_z': restricted_z(newborn.length_cm, term.length_curve),
            },
            {
                'column_name': 'head_circumference_cm',
                'size': newborn.head_circumference_cm,
                'own_z': size.head_z,
                'term_z': restricted_z(newborn.head_circumference_cm, term.head_curve),
            },
        ], recursive := true),
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    inner join term
        on term.unit = newborn.unit
        and term.sex = if(newborn.sex = 'female', 'female', 'male')
    left join size_z as size using (row_id)
    where newborn.birth_month is not null
),

month as (
    select
        unit,
        birth_month,
        column_name,
        any_value(within) as within,
        count(own_z) < any_value(at_least) as is_read_at_term,
        if(count(own_z) < any_value(at_least), count(term_z), count(own_z)) as newborns,
        if(count(own_z) < any_value(at_least), median(term_z), median(own_z)) as median_z,
    from sized
    group by unit, birth_month, column_name
    having newborns >= any_value(at_least) and abs(median_z) > any_value(beyond)
),

tried as (
    select
        sized.row_id,
        month.unit,
        month.birth_month,
        month.column_name,
        slip.truth_words,
        slip.assumed_words,
        slip.code,
        month.within,
        month.is_read_at_term,
        restricted_z(
            sized.size * slip.factor,
            case
                when month.column_name = 'weight_g'
                then if(month.is_read_at_term, term.weight_curve, choice.weight_curve)
                when month.column_name = 'length_cm'
                then if(month.is_read_at_term, term.length_curve, choice.length_curve)
                else if(month.is_read_at_term, term.head_curve, choice.head_curve)
            end
        ) as z,
    from month
    inner join sized using (unit, birth_month, column_name)
    inner join slip on slip.column_name = month.column_name
    inner join typed.admission as newborn on newborn.row_id = sized.row_id
    inner join term
        on term.unit = newborn.unit
        and term.sex = if(newborn.sex = 'female', 'female', 'male')
    left join size_choice as choice on choice.row_id = sized.row_id
),

by_unit_of_measurement as (
    select
        unit,
        birth_month,
        column_name,
        truth_words,
        assumed_words,
        code,
        abs(median(z)) as distance,
    from tried
    group by unit, birth_month, column_name, truth_words, assumed_words, code, within
    having abs(median(z)) < within
),

fitting as (
    select *
    from by_unit_of_measurement
    qualify row_number() over (partition by unit, birth_month, column_name order by distance) = 1
),

called as (
    select distinct
        column_name,
        plural,
    from unit_of_measurement
)

select
    month.unit,
    month.column_name,
    strftime(month.birth_month, '%B %Y') || ': the ' || called.plural || ' of ' || month.newborns
        || ' newborns are, as a whole, far from what is seen.'
        || coalesce(' They fit if the column holds ' || fitting.truth_words || '.', '')
        || if(
            month.is_read_at_term,
            ' Few have a gestation, so all were compared with newborns at 40 completed weeks.',
            ''
        ) as explanation,
    coalesce(
        'Set unit = "' || fitting.code || '" for this column in the unit file, if the unit '
            || 'confirms it: it was read as ' || fitting.assumed_words || '.',
        'Ask the unit in which unit of measurement this column is kept.'
    ) as suggestion,
from month
inner join called using (column_name)
left join fitting using (unit, birth_month, column_name)
