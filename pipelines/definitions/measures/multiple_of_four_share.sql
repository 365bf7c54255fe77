/*
title = "Breaths charted as a multiple of four"
question = "How many charted respirations are a multiple of four?"
group = "first observations"
kind = "descriptive"
direction = "neither"
population = "Respirations of newborns born alive, taken in the first 24 hours and not read from a device."
numerator = "The charted number is a multiple of the divisor, 4."
anchor = "the count"
parameters = { counts_until_minutes = 1440, divisor = 4 }
follows = { counts_until_minutes = "full_minute_counts" }
owner = "recorded"
exceptions = "None."
missing = "left_out"
sources = [
    "By chance one number in four is a multiple of four, one in two is even: arithmetic",
    "15 seconds multiplied by four as its cause: common practice, no published source",
]
disagreement = "A share above one in four suggests short counts; so do even numbers above one in two (set divisor to 2). Neither proves one."
documentation_trap = "This is a proxy for units that do not chart how they counted. Few rows say nothing: read the interval, and do not read it below 50 counts."
caution = "This screens records, and of a whole month only: it says nothing about one count or one nurse."
balancing = ["full_minute_counts"]
look_at = ["respiratory rate: value, method of counting"]
version = "1.0"

[gravity]
level = "descriptive"
why = "It describes how breaths are counted, and judges no record."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[examples]]
because = "each hand count is a row of its own; a device is none; a masked value or time is unusable; half a breath is no multiple"
given.admission = """
record_id
one
two
"""
given.observation = """
record_id | kind             | minutes | value | method      | unusable
one       | respiratory_rate | 30      | 44    | part_minute |
one       | respiratory_rate | 60      | 46    |             |
one       | respiratory_rate | 90      | 44.5  |             |
one       | respiratory_rate | 99      | 48    | device      |
one       | heart_rate       | 99      | 140   |             |
two       | respiratory_rate | 30      |       |             | value
two       | respiratory_rate |         | 44    |             | minutes
two       | respiratory_rate | 40      |       |             |
"""
expect = """
record_id | item | state          | minutes
one       | 1    | met            | 30
one       | 2    | not_met        | 60
one       | 3    | not_met        | 90
two       | 1    | unusable       | 30
two       | 2    | not_documented | 40
two       | 3    | unusable       |
"""

[[examples]]
because = "minute 1440 is still the first day, 1441 is not; a stillborn's rows are set apart"
given.admission = """
record_id | live_birth
at1440    | true
at1441    | true
still     | false
"""
given.observation = """
record_id | kind             | minutes | value
at1440    | respiratory_rate | 1440    | 40
at1441    | respiratory_rate | 1441    | 40
still     | respiratory_rate | 2       | 4
"""
expect = """
record_id | item | state
at1440    | 1    | met
still     | 1    | exclusion
"""

[[examples]]
because = "the share of even numbers is asked for with a divisor of 2"
policy = { divisor = 2 }
given.admission = """
record_id
one
"""
given.observation = """
record_id | kind             | minutes | value
one       | respiratory_rate | 30      | 46
one       | respiratory_rate | 60      | 47
"""
expect = """
record_id | item | state
one       | 1    | met
one       | 2    | not_met
"""
*/
select
    breaths.newborn_id as newborn_id,
    row_number() over (
        partition by breaths.newborn_id
        -- By what was charted, so that the order of the lines in a file changes nothing.
        order by breaths.minutes nulls last, breaths.value, breaths.unusable::varchar
    ) as item,
    breaths.value is not null or coalesce(list_contains(breaths.unusable, 'value'), false)
        as is_documented,
    breaths.is_usable as is_usable,
    breaths.minutes as minutes,
    breaths.value % setting.divisor = 0 as is_met,
from hand_count as breaths
inner join setting on setting.newborn_id = breaths.newborn_id
where breaths.kind = 'respiratory_rate'
