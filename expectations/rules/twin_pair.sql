/*
title       = "A twin without the other, or two twins with their weights exchanged"
table       = "admission"
severity    = "query"
explanation = "Recorded as one of several newborns of a pregnancy, but no other was born near it with the same gestation. The number of newborns is wrong, or the other's record is missing: check both."
sources     = ["twins of one pregnancy are born near each other, with the same gestation: what the columns mean", "weight goes with length and head: correlations of 0.7 and 0.65 (published cohorts, see size curves); by how much exchanged weights must fit better: our own limit, no published source"]
# The time of birth is not kept: the order of births stands for it. All sizes exchanged between two
# twins, or the weights of two that weigh much the same, cannot be told from a record.

[parameters]
births_apart_at_most = 8
fits_better_by       = 6

[[examples]]
because = "one of two, and nobody near it"
given.admission = """
record_id | plurality | birth_month | birth_order | gestational_age_days
alone     | 2         | 2025-03-01  | 41          | 260
other     | 1         | 2025-03-01  | 42          | 260
far       | 2         | 2025-03-01  | 60          | 260
far_too   | 2         | 2025-03-01  | 61          | 260
"""
expect = """
record_id | column_name | severity
alone     | plurality   | query
"""

[[examples]]
because = "twins 900 g apart whose weights fit each other's length and head"
given.admission = """
record_id | plurality | birth_month | birth_order | sex  | gestational_age_days | weight_g | length_cm | head_circumference_cm
small     | 2         | 2025-03-01  | 41          | male | 259                  | 3050     | 44        | 31
big       | 2         | 2025-03-01  | 42          | male | 259                  | 2000     | 49        | 33.6
"""
expect = """
record_id | column_name | severity | suggestion                                         | explanation
small     | weight_g    | query    | 2,000 g if the weights of the two were exchanged | The weights of these two newborns of one pregnancy would fit their lengths and heads far better if they were exchanged: check both.
big       | weight_g    | query    | 3,050 g if the weights of the two were exchanged | The weights of these two newborns of one pregnancy would fit their lengths and heads far better if they were exchanged: check both.
"""

[[examples]]
because = "twins, triplets of whom one is without gestation, singletons and twins of unlike size are left alone"
given.admission = """
record_id | plurality | birth_month | birth_order | sex    | gestational_age_days | weight_g | length_cm | head_circumference_cm
a         | 2         | 2025-03-01  | 41          | male   | 259                  | 2000     | 44        | 31
b         | 2         | 2025-03-01  | 42          | female | 259                  | 3050     | 49        | 33.6
c         | 3         | 2025-03-01  | 51          |        | 230                  |          |           |
d         | 3         | 2025-03-01  | 52          |        | 230                  |          |           |
e         | 3         | 2025-03-01  | 53          |        |                      |          |           |
f         | 1         | 2025-03-01  | 61          |        |                      |          |           |
"""
expect = """
record_id | column_name
"""
*/
with multiple as (
    select
        newborn.row_id,
        newborn.unit,
        newborn.birth_order,
        newborn.plurality,
        newborn.gestational_age_days,
        newborn.weight_g,
        z.weight_z,
        -- What weight its length and head lead to expect, as z: the mean of both, drawn in.
        0.8 * (z.length_z + z.head_z) / 2 as expected_z,
        setting.births_apart_at_most,
        setting.fits_better_by,
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    left join size_z as z using (row_id)
    where newborn.plurality >= 2
),

pair as (
    select
        one.row_id,
        one.weight_z,
        one.expected_z,
        one.fits_better_by,
        other.row_id as other_row_id,
        other.weight_g as other_weight_g,
    from multiple as one
    inner join multiple as other
        on other.unit = one.unit
        and other.plurality = one.plurality
        and other.row_id <> one.row_id
        and abs(other.birth_order - one.birth_order) <= one.births_apart_at_most
        and coalesce(abs(other.gestational_age_days - one.gestational_age_days) <= 1, true)
),

-- Each pair stands here from both sides, so each newborn's part of the misfit is counted once.
exchanged as (
    select
        pair.row_id,
        pair.other_row_id,
        pair.other_weight_g,
        pair.fits_better_by,
        any_value(pow(pair.weight_z - pair.expected_z, 2)) as misfit,
        -- Of several curves (sex not known) the one that the other's weight fits best.
        min(
            pow(restricted_z(pair.other_weight_g, choice.weight_curve) - pair.expected_z, 2)
        ) as misfit_exchanged,
    from pair
    inner join size_choice as choice using (row_id)
    group by pair.row_id, pair.other_row_id, pair.other_weight_g, pair.fits_better_by
),

better as (
    select one.row_id, one.other_weight_g
    from exchanged as one
    inner join exchanged as other
        on other.row_id = one.other_row_id and other.other_row_id = one.row_id
    where
        one.misfit + other.misfit - one.misfit_exchanged - other.misfit_exchanged
        >= one.fits_better_by
        and one.misfit > one.misfit_exchanged
        and other.misfit > other.misfit_exchanged
)

select
    row_id,
    'plurality' as column_name,
    null as explanation,
    null as suggestion,
from multiple
where birth_order is not null and row_id not in (select row_id from pair)
union all
select
    row_id,
    'weight_g' as column_name,
    'The weights of these two newborns of one pregnancy would fit their lengths and heads far '
        || 'better if they were exchanged: check both.' as explanation,
    format('{:,.0f} g if the weights of the two were exchanged', other_weight_g) as suggestion,
from better
