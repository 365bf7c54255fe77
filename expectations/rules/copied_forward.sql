/*
title       = "Vital signs the same as in the set before"
table       = "observation"
severity    = "query"
explanation = "Temperature, heart rate and respirations are all three the same as in the set before. Three signs seldom repeat exactly; the chart shows whether one set stands there twice."
sources     = ["by chance 7 in 100,000 successive sets, 2 in 1,000 where values are rounded to favourites: computed"]
# A set is a temperature with the heart rate and the respirations nearest to it in time.

[parameters]
minutes_of_a_set = 10

[[examples]]
because = "three signs repeated an hour later"
given.observation = """
record_id | kind             | minutes | value
a         | temperature      | 30      | 36.8
a         | heart_rate       | 31      | 142
a         | respiratory_rate | 32      | 48
a         | temperature      | 90      | 36.8
a         | heart_rate       | 91      | 142
a         | respiratory_rate | 90      | 48
"""
expect = """
record_id | column_name | severity
a         | value       | query
"""

[[examples]]
because = "one sign differs, a set between differs, the same in two newborns, or one sign is not there: left alone"
given.observation = """
record_id | kind             | minutes | value
differs   | temperature      | 30      | 36.8
differs   | heart_rate       | 31      | 142
differs   | respiratory_rate | 32      | 48
differs   | temperature      | 90      | 36.8
differs   | heart_rate       | 91      | 142
differs   | respiratory_rate | 90      | 50
between   | temperature      | 30      | 36.8
between   | heart_rate       | 30      | 142
between   | respiratory_rate | 30      | 48
between   | temperature      | 60      | 36.9
between   | heart_rate       | 60      | 140
between   | respiratory_rate | 60      | 44
between   | temperature      | 90      | 36.8
between   | heart_rate       | 90      | 142
between   | respiratory_rate | 90      | 48
alone     | temperature      | 30      | 36.8
alone     | temperature      | 90      | 36.8
"""
expect = """
record_id | column_name
"""

[[examples]]
because = "of two that are as near the earlier one belongs to the set, whichever line comes first"
given.observation = """
record_id | kind             | minutes | value
same      | temperature      | 30      | 36.8
same      | heart_rate       | 30      | 142
same      | respiratory_rate | 30      | 48
same      | temperature      | 90      | 36.8
same      | heart_rate       | 90      | 142
same      | respiratory_rate | 91      | 50
same      | respiratory_rate | 89      | 48
other     | temperature      | 30      | 36.8
other     | heart_rate       | 30      | 142
other     | respiratory_rate | 30      | 48
other     | temperature      | 90      | 36.8
other     | heart_rate       | 90      | 142
other     | respiratory_rate | 91      | 48
other     | respiratory_rate | 89      | 50
"""
expect = """
record_id | column_name
same      | value
"""
*/
with repeated_value as (
    select
        newborn_id,
        kind,
    from typed.observation
    where kind in ('temperature', 'heart_rate', 'respiratory_rate') and value is not null
    group by newborn_id, kind, value
    having count(*) > 1
),

-- Few newborns have a value twice in each of the three signs; only they are looked at.
maybe as (
    select newborn_id
    from repeated_value
    group by newborn_id
    having count(distinct kind) = 3
),

reading as (
    select
        observed.row_id,
        observed.unit,
        observed.newborn_id,
        observed.kind,
        observed.minutes,
        observed.value,
    from typed.observation as observed
    inner join maybe using (newborn_id)
    where observed.minutes is not null and observed.value is not null
),

near as (
    select
        warmth.row_id,
        warmth.newborn_id,
        warmth.minutes,
        warmth.value,
        other.kind as other_kind,
        -- Of two that are as near the earlier one, so that every build finds the same.
        first(
            other.row_id
            order by abs(other.minutes - warmth.minutes), other.minutes, other.row_id
        ) as other_row_id,
        first(
            other.value
            order by abs(other.minutes - warmth.minutes), other.minutes, other.row_id
        ) as other_value,
    from reading as warmth
    inner join rule_setting as setting using (unit)
    inner join reading as other
        on other.newborn_id = warmth.newborn_id
        and other.kind in ('heart_rate', 'respiratory_rate')
        and abs(other.minutes - warmth.minutes) <= setting.minutes_of_a_set
    where warmth.kind = 'temperature'
    group by warmth.row_id, warmth.newborn_id, warmth.minutes, warmth.value, other.kind
),

taken as (
    select
        row_id,
        newborn_id,
        minutes,
        value as temperature_c,
        max(other_value) filter (where other_kind = 'heart_rate') as heart_rate,
        max(other_value) filter (where other_kind = 'respiratory_rate') as respiratory_rate,
        array_agg(other_row_id) as other_row_ids,
    from near
    group by row_id, newborn_id, minutes, value
    having count(*) = 2
),

compared as (
    select
        *,
        (temperature_c, heart_rate, respiratory_rate)
            = lag((temperature_c, heart_rate, respiratory_rate)) over (
                partition by newborn_id order by minutes, row_id
            ) as is_same,
    from taken
)

select
    unnest(list_append(other_row_ids, row_id)) as row_id,
    'value' as column_name,
from compared
where is_same
