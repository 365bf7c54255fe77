/*
title = "Second temperature within the hour of the first"
question = "Was temperature taken again soon after the first?"
also_called = ["rewarming", "thermal care"]
group = "warmth"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit."
numerator = "A second body temperature no later than 60 minutes after the first."
anchor = "the first body temperature"
window = { at_least = 0, at_most = 60 }
window_status = "local"
parameters = { skin_counts = false }
follows = { skin_counts = "first_temperature" }
owner = "born_here"
exceptions = "None."
missing = "not_met"
sources = [
    "60 minutes: local decision, no published value; regular readings in the first hours are common practice",
]
disagreement = "Units ask for the second after 15, 30 or 60 minutes. After a cold reading another measure asks sooner."
documentation_trap = "Two readings of one minute are one. A probe that runs on is seldom charted as a second reading."
caution = "This screens records. A reading that wakes a newborn at the breast is no gain: read it beside contact."
balancing = ["skin_contact_sustained"]
look_at = ["temperature: each time, value, site"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "A first reading alone cannot say where a newborn is going."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "minute 60 after the first counts, 61 is late; two of one minute are one; a masked one between does not count"
given.admission = """
record_id
at60
at61
one
together
between
"""
given.observation = """
record_id | kind        | minutes | value | site     | unusable
at60      | temperature | 20      | 36.6  | axillary |
at60      | temperature | 80      | 36.8  | axillary |
at61      | temperature | 20      | 36.6  | axillary |
at61      | temperature | 81      | 36.8  | axillary |
one       | temperature | 20      | 36.6  | axillary |
together  | temperature | 20      | 36.6  | axillary |
together  | temperature | 20      | 36.7  | rectal   |
between   | temperature | 20      | 36.6  | axillary |
between   | temperature | 40      |       | axillary | value
between   | temperature | 70      | 36.8  | axillary |
"""
expect = """
record_id | state          | minutes
at60      | met            | 60
at61      | late           | 61
one       | not_documented |
together  | not_documented |
between   | met            | 50
"""

[[examples]]
because = "no reading is not documented; a second that cannot be placed or believed is unusable"
given.admission = """
record_id
no_row
bad_second
no_time
both_bad
"""
given.observation = """
record_id  | kind        | minutes | value | site     | unusable
bad_second | temperature | 20      | 36.6  | axillary |
bad_second | temperature | 50      |       | axillary | value
no_time    | temperature | 20      | 36.6  | axillary |
no_time    | temperature |         | 36.7  | axillary | minutes
both_bad   | temperature | 20      |       | axillary | value
both_bad   | temperature | 50      |       | axillary | value
"""
expect = """
record_id  | state
no_row     | not_documented
bad_second | unusable
no_time    | unusable
both_bad   | unusable
"""

[[examples]]
because = "standard exclusions; a newborn moved after the second was due counts"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition
still     | false      | birth_room  |                   |
died      | true       | birth_room  | 30                | died
moved     | true       | birth_room  | 30                | transfer
elsewhere | true       | other_site  |                   |
comfort   | true       | birth_room  |                   |
later     | true       | birth_room  | 90                | transfer
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
given.observation = """
record_id | kind        | minutes | value | site
later     | temperature | 20      | 36.6  | axillary
died      | temperature | 10      | 36.6  | axillary
"""
expect = """
record_id | state          | reason
still     | exclusion      | stillborn
died      | exclusion      | died before the window closed
moved     | exception      | moved before the window closed
elsewhere | exclusion      | born elsewhere
comfort   | exclusion      | comfort care before the window closed
later     | not_documented |
"""
*/
with again as (
    select
        first_reading.newborn_id as newborn_id,
        first_reading.minutes as first_minutes,
        min(reading.minutes) filter (
            where reading.is_usable and reading.minutes > first_reading.minutes
        ) as second_minutes,
        -- One that is there and cannot be placed, or not believed.
        coalesce(bool_or(not reading.is_usable), false) as has_unusable,
    from first_body_temperature as first_reading
    left join body_temperature as reading on reading.newborn_id = first_reading.newborn_id
    group by first_reading.newborn_id, first_reading.minutes
)

select
    again.newborn_id as newborn_id,
    again.second_minutes is not null or again.has_unusable as is_documented,
    again.second_minutes is not null as is_usable,
    again.second_minutes - again.first_minutes as minutes,
    coalesce(again.first_minutes, 0) + setting.at_most as closes_minutes,
    again.second_minutes as judged_minutes,
from again
inner join setting on setting.newborn_id = again.newborn_id
