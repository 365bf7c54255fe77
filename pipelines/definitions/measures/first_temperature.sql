/*
title = "First temperature on time"
question = "Was a body temperature taken soon after birth?"
also_called = ["axillary temperature", "vital signs"]
group = "warmth"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit."
numerator = "A body temperature with a believable value and time inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 60 }
window_status = "local"
parameters = { skin_counts = false }
owner = "born_here"
exclude = ["cooling"]
exceptions = "None. A reading taken before cooling began still counts."
missing = "not_met"
sources = [
    "Window: local decision, no published value",
    "WHO, Thermal protection of the newborn, 1997: guide to keeping newborns warm",
]
disagreement = "Units use 15, 30 or 60 minutes. No guideline was found that gives a number of minutes."
documentation_trap = "A probe left on the skin under a warmer reads what the warmer heats: by its site (skin) or by how it was taken (probe) it is set apart, unless the unit sets skin_counts. Charting time may stand in for the time of the reading. Readings from hand, foot or chest are not counted as body temperature; a blank site is."
caution = "This screens records. A met window says a reading was charted, not that the newborn was warm. Local policy decides when and how to measure."
balancing = ["skin_contact_start", "warm_excess"]
look_at = ["temperature: time of the first reading, site"]
version = "1.1"

[gravity]
level = "serious"
why = "A cold newborn cannot be found without a reading."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a probe on the skin is no temperature of the body by default; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 60 still counts, minute 61 is late; the first of several readings counts"
given.admission = """
record_id | birth_place
at60      | birth_room
at61      | birth_room
twice     | birth_room
"""
given.observation = """
record_id | kind        | minutes | value | site
at60      | temperature | 60      | 36.8  | axillary
at61      | temperature | 61      | 36.8  | axillary
twice     | temperature | 20      | 36.8  | axillary
twice     | temperature | 90      | 36.9  | axillary
"""
expect = """
record_id | state | minutes
at60      | met   | 60
at61      | late  | 61
twice     | met   | 20
"""

[[examples]]
because = "no row is not documented; a masked time or value is unusable; a usable reading beside it is taken"
given.admission = """
record_id
no_row
pulse_only
before_birth
bad_value
mixed
foot_only
no_site
"""
given.observation = """
record_id    | kind        | minutes | value | site     | unusable
pulse_only   | heart_rate  | 10      | 140   | chest    |
before_birth | temperature |         | 36.8  | axillary | minutes
bad_value    | temperature | 30      |       | axillary | value
mixed        | temperature |         | 36.8  | axillary | minutes
mixed        | temperature | 45      | 36.7  | rectal   |
foot_only    | temperature | 20      | 34.0  | foot     |
no_site      | temperature | 20      | 36.9  |          |
"""
expect = """
record_id    | state          | minutes
no_row       | not_documented |
pulse_only   | not_documented |
before_birth | unusable       |
bad_value    | unusable       |
mixed        | met            | 45
foot_only    | not_documented |
no_site      | met            | 20
"""

[[examples]]
because = "standard exclusions: the window never closed here, or the event belonged to another site"
given.admission = """
record_id   | live_birth | birth_place | discharge_minutes | disposition
still       | false      | birth_room  |                   |
died_at_30  | true       | birth_room  | 30                | died
moved_at_40 | true       | birth_room  | 40                | transfer
moved_later | true       | birth_room  | 300               | transfer
elsewhere   | true       | other_site  |                   |
comfort     | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
given.observation = """
record_id   | kind        | minutes | value | site
moved_later | temperature | 15      | 36.8  | axillary
elsewhere   | temperature | 15      | 36.8  | axillary
"""
expect = """
record_id   | state
still       | exclusion
died_at_30  | exclusion
moved_at_40 | exception
moved_later | met
elsewhere   | exclusion
comfort     | exclusion
"""

[[examples]]
because = "cooling from minute 30: a reading at 10 still counts, none before cooling takes the newborn out; cooling after the window changes nothing"
given.admission = """
record_id
read_at_10
read_at_45
unread
cooled_later
cooled_at_60
same_minute
"""
given.care = """
record_id    | kind    | minutes | status
read_at_10   | cooling | 30      | done
read_at_45   | cooling | 30      | done
unread       | cooling | 30      | done
cooled_later | cooling | 120     | done
cooled_at_60 | cooling | 60      | done
same_minute  | cooling | 30      | done
"""
given.observation = """
record_id    | kind        | minutes | value | site
read_at_10   | temperature | 10      | 36.0  | axillary
read_at_45   | temperature | 45      | 34.5  | rectal
same_minute  | temperature | 30      | 36.0  | rectal
"""
expect = """
record_id    | state          | reason
read_at_10   | met            |
read_at_45   | exclusion      | cooled before the window closed
unread       | exclusion      | cooled before the window closed
cooled_later | not_documented |
cooled_at_60 | not_documented |
same_minute  | exclusion      | cooled before the window closed
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

[[examples]]
because = "moved unread, by a care item too, is an exception; read before, or in time by those who took the newborn over, it counts"
given.admission = """
record_id   | discharge_minutes | disposition
unread      |                   |
read_before |                   |
read_after  |                   |
untimed     |                   | transfer
"""
given.care = """
record_id   | kind     | minutes | status
unread      | transfer | 40      | done
read_before | transfer | 40      | done
read_after  | transfer | 40      | done
"""
given.observation = """
record_id   | kind        | minutes | value | site
read_before | temperature | 30      | 36.8  | axillary
read_after  | temperature | 50      | 36.8  | axillary
"""
expect = """
record_id   | state     | reason
unread      | exception | moved before the window closed
read_before | met       |
read_after  | met       |
untimed     | exception | moved before the window closed
"""
*/
select
    newborn.newborn_id as newborn_id,
    reading.is_documented as is_documented,
    reading.minutes is not null as is_usable,
    reading.minutes as minutes,
from mart.newborn as newborn
inner join first_body_temperature as reading on reading.newborn_id = newborn.newborn_id
