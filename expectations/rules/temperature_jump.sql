/*
title       = "A jump of temperature that skin cannot make"
table       = "observation"
severity    = "query"
explanation = "This temperature and the one beside it lie further apart than a newborn can warm or cool in the minutes between. One of the two is wrong, or was taken elsewhere: check both."
sources     = ["a wet newborn in a cold room may lose 0.1 °C a minute inside and more on the skin in the first half hour (from memory); later changes are some tenths of a degree in an hour", "1.5 °C between two thermometers or sites, and 0.03 °C a minute: our own limits, common practice, no published source"]
# Readings by a skin probe, and those of newborns who are cooled, may move faster and are left out.

[parameters]
at_once_c          = 1.5
per_minute_c       = 0.03
first_half_hour_c  = 0.1
within_minutes     = 120

[[examples]]
because = "one reading in three is out of line: it alone is asked for"
given.observation = """
record_id | kind        | value | minutes
a         | temperature | 36.7  | 30
a         | temperature | 39.7  | 60
a         | temperature | 36.8  | 90
"""
expect = """
record_id | column_name | severity | explanation
a         | value       | query    | This temperature lies further from those before and after it than a newborn can warm or cool in the minutes between. It may be a slip of a digit, or another newborn's: check it.
"""

[[examples]]
because = "two readings alone: either may be wrong"
given.observation = """
record_id | kind        | value | minutes
a         | temperature | 36.7  | 40
a         | temperature | 33.9  | 50
"""
expect = """
record_id | column_name | severity
a         | value       | query
"""

[[examples]]
because = "cooling down wet after birth, slow warming, cooling on purpose, a skin probe, and hours between are left alone"
given.observation = """
record_id | kind        | value | minutes | site
wet       | temperature | 37.5  | 5       | axillary
wet       | temperature | 35.2  | 25      | axillary
slow      | temperature | 34.6  | 60      | axillary
slow      | temperature | 36.6  | 90      | axillary
cooled    | temperature | 36.8  | 60      | rectal
cooled    | temperature | 33.5  | 90      | rectal
probe     | temperature | 33.0  | 60      | skin
probe     | temperature | 36.6  | 61      | axillary
hours     | temperature | 33.9  | 60      | axillary
hours     | temperature | 37.0  | 400     | axillary
"""
given.care = """
record_id | kind    | minutes
cooled    | cooling | 62
"""
expect = """
record_id | column_name
"""
*/
with body as (
    select
        reading.row_id,
        reading.newborn_id,
        reading.value,
        reading.minutes,
        setting.* exclude (unit),
        lag(reading.row_id) over in_order as before_row_id,
        lag(reading.value) over in_order as before_value,
        lag(reading.minutes) over in_order as before_minutes,
    from typed.observation as reading
    inner join rule_setting as setting using (unit)
    where
        reading.kind = 'temperature'
        and reading.value between 30 and 43
        and reading.minutes >= 0
        and coalesce(reading.site, '') <> 'skin'
        and reading.newborn_id not in (
            select newborn_id from typed.care where kind = 'cooling' and newborn_id is not null
        )
    window in_order as (partition by reading.newborn_id order by reading.minutes, reading.row_id)
),

jump as (
    select
        row_id,
        before_row_id,
        sign(value - before_value) as way,
    from body
    where
        minutes - before_minutes <= within_minutes
        and abs(value - before_value) > at_once_c + (minutes - before_minutes) * if(
            before_minutes <= 30 and value < before_value, first_half_hour_c, per_minute_c
        )
),

-- Up and straight down again, or down and up: the one between is out of line.
between_two as (
    select
        jump.row_id,
        jump.before_row_id,
        after.row_id as after_row_id,
    from jump
    inner join jump as after on after.before_row_id = jump.row_id and after.way = -jump.way
)

select
    row_id,
    'value' as column_name,
    'This temperature lies further from those before and after it than a newborn can warm or cool '
        || 'in the minutes between. It may be a slip of a digit, or another newborn''s: check it.'
        as explanation,
from between_two
union all
select
    unnest([row_id, before_row_id]) as row_id,
    'value' as column_name,
    null as explanation,
from jump
where
    row_id not in (select row_id from between_two)
    and before_row_id not in (select row_id from between_two)
