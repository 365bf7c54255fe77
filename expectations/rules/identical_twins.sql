/*
title       = "Two newborns of one birth with the same sizes"
table       = "admission"
severity    = "query"
explanation = "Two newborns of a multiple birth, born within the hour, have the same weight, length and head. The sizes may have been copied from one to the other, or one newborn stands twice."
sources     = ["our own rule, no published source: of the time of birth only the hour and the order of births are kept, so twins of one birth are those next to each other in it"]

[parameters]
births_apart_at_most = 2

[[examples]]
because = "twins next to each other in the order of births, all three sizes equal"
given.admission = """
record_id | plurality | birth_month | birth_weekday | birth_hour | birth_order | weight_g | length_cm | head_circumference_cm
first     | 2         | 2025-03-01  | 3             | 10         | 41          | 2450     | 46        | 32.5
second    | 2         | 2025-03-01  | 3             | 10         | 42          | 2450     | 46        | 32.5
"""
expect = """
record_id | column_name           | severity
first     | weight_g              | query
first     | length_cm             | query
first     | head_circumference_cm | query
second    | weight_g              | query
second    | length_cm             | query
second    | head_circumference_cm | query
"""

[[examples]]
because = "one size differs, another day, or singletons: left alone"
given.admission = """
record_id | plurality | birth_month | birth_weekday | birth_hour | birth_order | weight_g | length_cm | head_circumference_cm
a         | 2         | 2025-03-01  | 3             | 10         | 41          | 2450     | 46        | 32.5
b         | 2         | 2025-03-01  | 3             | 10         | 42          | 2460     | 46        | 32.5
c         | 2         | 2025-03-01  | 4             | 10         | 43          | 2450     | 46        | 32.5
d         | 1         | 2025-03-01  | 5             | 10         | 44          | 3400     | 50        | 35
e         | 1         | 2025-03-01  | 5             | 10         | 45          | 3400     | 50        | 35
"""
expect = """
record_id | column_name
"""
*/
with multiple as (
    select
        newborn.*,
        setting.births_apart_at_most,
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    where newborn.plurality >= 2
),

pair as (
    select
        one.row_id as one_row_id,
        other.row_id as other_row_id,
    from multiple as one
    inner join multiple as other
        on other.unit = one.unit
        and other.birth_month = one.birth_month
        and other.birth_weekday = one.birth_weekday
        and other.birth_hour = one.birth_hour
        and other.weight_g = one.weight_g
        and other.length_cm = one.length_cm
        and other.head_circumference_cm = one.head_circumference_cm
        and other.birth_order > one.birth_order
        and other.birth_order <= one.birth_order + one.births_apart_at_most
),

either as (
    select one_row_id as row_id from pair
    union
    select other_row_id as row_id from pair
)

select
    row_id,
    unnest(['weight_g', 'length_cm', 'head_circumference_cm']) as column_name,
from either
