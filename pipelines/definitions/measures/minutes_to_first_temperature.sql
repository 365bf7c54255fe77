/*
title = "Minutes to the first temperature"
question = "How long did it take until a body temperature was taken?"
group = "warmth"
kind = "minutes"
direction = "lower"
population = "Newborns born alive in the unit."
numerator = "A body temperature with a believable value and time; how many minutes after birth the first one was taken."
anchor = "birth"
parameters = { watched_minutes = 1440, skin_counts = false }
follows = { skin_counts = "first_temperature" }
owner = "born_here"
exclude = ["cooling"]
exceptions = "None. What cut the waiting off before any reading sets the newborn apart. Without a reading this is looked at until watched_minutes."
missing = "left_out"
sources = ["Median and 90th centile of the minutes: local decision, no published value"]
disagreement = "No guideline was found that gives a number of minutes. The middle of a month hides its tail: read the 90th centile and the newborns never measured beside it."
documentation_trap = "A newborn never measured has no minutes and cannot lengthen the median; the count of those without a reading stands beside it. Charting time may stand in for the time of the reading."
caution = "This screens records. A short time says that a reading was charted, not that the newborn was warm."
balancing = ["skin_contact_sustained", "warm_excess"]
look_at = ["temperature: time of the first reading, site"]
version = "1.1"

[gravity]
level = "descriptive"
why = "Minutes are shown as they are; which are too many is said by the measure with a window."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a probe on the skin is no temperature of the body by default; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "the first usable reading gives the minutes, however late; minute 0 counts; a reading of hand or foot does not"
given.admission = """
record_id
at0
twice
next_day
foot_only
"""
given.observation = """
record_id | kind        | minutes | value | site
at0       | temperature | 0       | 36.8  | axillary
twice     | temperature | 90      | 36.9  | axillary
twice     | temperature | 20      | 36.8  |
next_day  | temperature | 2000    | 36.8  | rectal
foot_only | temperature | 20      | 34.0  | foot
"""
expect = """
record_id | state          | minutes
at0       | met            | 0
twice     | met            | 20
next_day  | met            | 2000
foot_only | not_documented |
"""

[[examples]]
because = "no row is not documented; a masked time or value is unusable; a usable reading beside it is taken"
given.admission = """
record_id
no_row
before_birth
bad_value
mixed
"""
given.observation = """
record_id    | kind        | minutes | value | site     | unusable
before_birth | temperature |         | 36.8  | axillary | minutes
bad_value    | temperature | 30      |       | axillary | value
mixed        | temperature |         | 36.8  | axillary | minutes
mixed        | temperature | 45      | 36.7  | rectal   |
"""
expect = """
record_id    | state          | minutes
no_row       | not_documented |
before_birth | unusable       |
bad_value    | unusable       |
mixed        | met            | 45
"""

[[examples]]
because = "what cut the waiting off before a reading excludes; after the reading it changes nothing"
given.admission = """
record_id    | live_birth | birth_place | discharge_minutes | disposition
still        | false      | birth_room  |                   |
moved_unread | true       | birth_room  | 40                | transfer
moved_read   | true       | birth_room  | 40                | transfer
died_unread  | true       | birth_room  | 1439              | died
died_later   | true       | birth_room  | 1440              | died
elsewhere    | true       | other_site  |                   |
comfort      | true       | birth_room  |                   |
cooled       | true       | birth_room  |                   |
cooled_read  | true       | birth_room  |                   |
cooled_1441  | true       | birth_room  |                   |
"""
given.care = """
record_id   | kind         | minutes | status
comfort     | comfort_care | 5       | done
cooled      | cooling      | 30      | done
cooled_read | cooling      | 30      | done
cooled_1441 | cooling      | 1441    | done
"""
given.observation = """
record_id   | kind        | minutes | value | site
moved_read  | temperature | 20      | 36.8  | axillary
elsewhere   | temperature | 20      | 36.8  | axillary
cooled      | temperature | 30      | 34.5  | rectal
cooled_read | temperature | 29      | 36.0  | rectal
cooled_1441 | temperature | 1500    | 34.0  | rectal
"""
expect = """
record_id    | state          | reason
still        | exclusion      | stillborn
moved_unread | exception      | moved before the window closed
moved_read   | met            |
died_unread  | exclusion      | died before the window closed
died_later   | not_documented |
elsewhere    | exclusion      | born elsewhere
comfort      | exclusion      | comfort care before the window closed
cooled       | exclusion      | cooled before the window closed
cooled_read  | met            |
cooled_1441  | exclusion      | cooled before the window closed
"""

[[examples]]
because = "a probe on the skin, by its site or by how it was taken, is no temperature of the body unless the unit counts it"
given.admission = """
record_id
by_site
by_method
in_axilla
no_site
"""
given.observation = """
record_id | kind        | minutes | value | site     | method
by_site   | temperature | 10      | 36.4  | skin     |
by_method | temperature | 10      | 36.4  | axillary | probe
in_axilla | temperature | 10      | 36.4  | axillary | device
no_site   | temperature | 10      | 36.4  |          |
"""
expect = """
record_id | state
by_site   | not_documented
by_method | not_documented
in_axilla | met
no_site   | met
"""

[[examples]]
because = "a unit that counts skin probes turns them on"
policy = { skin_counts = true }
given.admission = """
record_id
by_site
by_method
"""
given.observation = """
record_id | kind        | minutes | value | site | method
by_site   | temperature | 10      | 36.4  | skin |
by_method | temperature | 10      | 36.4  |      | probe
"""
expect = """
record_id | state
by_site   | met
by_method | met
"""
*/
select
    newborn.newborn_id as newborn_id,
    reading.is_documented as is_documented,
    reading.minutes is not null as is_usable,
    reading.minutes as minutes,
    greatest(reading.minutes, setting.watched_minutes) as closes_minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
inner join first_body_temperature as reading on reading.newborn_id = newborn.newborn_id
