/*
title       = "One newborn under two study keys"
table       = "admission"
severity    = "query"
explanation = "Another record has the same hour of birth, sex, gestation, weight and further facts. The newborn may stand twice, under two keys: look up both."
sources     = ["which facts must agree, and how many: our own rule, no published source"]
# No column links a newborn to the mother, so sizes, scores and times must do. Twins of one birth
# with the same sizes are another rule (identical_twins).

[parameters]
births_apart_at_most = 2
further_at_least     = 3

[[examples]]
because = "next to each other, all the same but the key"
given.admission = """
record_id | birth_month | birth_weekday | birth_hour | birth_order | sex  | gestational_age_days | weight_g | length_cm | head_circumference_cm | apgar_1 | apgar_5
k100      | 2025-03-01  | 3             | 10         | 41          | male | 279                  | 3455     | 50.5      | 34.2                  | 8       | 9
k917      | 2025-03-01  | 3             | 10         | 41          | male | 279                  | 3455     | 50.5      | 34.2                  | 8       | 9
"""
expect = """
record_id | column_name | severity | suggestion
k100      | record_id   | query    | Compare it with the record k917.
k917      | record_id   | query    | Compare it with the record k100.
"""

[[examples]]
because = "another sex, another hour, a contrary size, few further facts, and twins are left alone"
given.admission = """
record_id | birth_month | birth_weekday | birth_hour | birth_order | plurality | sex    | gestational_age_days | weight_g | length_cm | head_circumference_cm | apgar_1 | apgar_5
a         | 2025-03-01  | 3             | 10         | 1           |           | male   | 279                  | 3455     | 50.5      | 34.2                  | 8       | 9
sex       | 2025-03-01  | 3             | 10         | 2           |           | female | 279                  | 3455     | 50.5      | 34.2                  | 8       | 9
hour      | 2025-03-01  | 3             | 11         | 3           |           | male   | 279                  | 3455     | 50.5      | 34.2                  | 8       | 9
contrary  | 2025-03-01  | 3             | 10         | 2           |           | male   | 279                  | 3455     | 52        | 34.2                  | 8       | 9
few       | 2025-03-01  | 4             | 10         | 9           |           | male   | 279                  | 3455     | 50.5      | 34.2                  |         |
few_too   | 2025-03-01  | 4             | 10         | 10          |           | male   | 279                  | 3455     | 50.5      | 34.2                  | 8       | 9
twin      | 2025-03-01  | 5             | 10         | 20          | 2         | male   | 250                  | 2455     | 46.5      | 33.0                  | 8       | 9
twin_too  | 2025-03-01  | 5             | 10         | 21          | 2         | male   | 250                  | 2455     | 46.5      | 33.0                  | 8       | 9
"""
expect = """
record_id | column_name
"""
*/
with single as (
    select
        newborn.row_id,
        newborn.record_id,
        newborn.unit,
        newborn.birth_month,
        newborn.birth_weekday,
        newborn.birth_hour,
        newborn.birth_order,
        newborn.sex,
        newborn.gestational_age_days,
        newborn.weight_g,
        [
            length_cm, head_circumference_cm, apgar_1, apgar_5,
            round(size_minutes), round(arrival_minutes), round(discharge_minutes),
        ] as further,
        setting.births_apart_at_most,
        setting.further_at_least,
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    where coalesce(newborn.plurality, 1) = 1
),

pair as (
    select
        one.row_id as one_row_id,
        one.record_id as one_record_id,
        other.row_id as other_row_id,
        other.record_id as other_record_id,
        list_transform(
            list_zip(one.further, other.further), lambda pair: pair[1] = pair[2]
        ) as agree,
        one.further_at_least,
    from single as one
    inner join single as other
        on other.unit = one.unit
        and other.birth_month = one.birth_month
        and other.weight_g = one.weight_g
        and other.gestational_age_days = one.gestational_age_days
        and other.sex = one.sex
        and other.row_id > one.row_id
        and other.birth_weekday is not distinct from one.birth_weekday
        and other.birth_hour is not distinct from one.birth_hour
        and abs(other.birth_order - one.birth_order) <= one.births_apart_at_most
),

same as (
    select *
    from pair
    where
        len(list_filter(agree, lambda is_same: is_same)) >= further_at_least
        and not list_contains(agree, false)
)

select
    one_row_id as row_id,
    'record_id' as column_name,
    format('Compare it with the record {}.', other_record_id) as suggestion,
from same
union all
select
    other_row_id as row_id,
    'record_id' as column_name,
    format('Compare it with the record {}.', one_record_id) as suggestion,
from same
