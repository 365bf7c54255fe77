/*
title = "Temperature checked again after a cold reading"
question = "After a cold reading, was the temperature taken again in time?"
also_called = ["hypothermia"]
group = "warmth"
kind = "episode"
direction = "higher"
population = "Cold readings of newborns born alive: each reading below the lower edge, also one that follows another."
numerator = "The next body temperature, in a later minute, was taken inside the window."
anchor = "the cold reading"
window = { at_least = 0, at_most = 30 }
window_status = "local"
parameters = { lower_edge_c = 36.5, skin_counts = false }
follows = { lower_edge_c = "arrival_temperature", skin_counts = "first_temperature" }
owner = "present"
going_home = "ends"
exclude = ["cooling"]
exceptions = "None."
missing = "not_met"
sources = [
    "Window of 30 minutes, and a re-check due after each cold reading: local decision, no published value",
    "Frontiers in Pediatrics, 2023, and ILCOR, 2023 (draft): how fast to rewarm is not settled",
    "WHO lower edge 36.5 °C, as cited in Scientific Reports, 2020",
]
disagreement = "Units use 15, 30 or 60 minutes; some count only the first cold reading of an episode; one study protocol read every 15 minutes until 36.5 °C."
documentation_trap = "A newborn who was warmed but whose second reading was not charted looks like a failure. Readings in one minute are one reading, and the lowest stands, so a repeat charted in the same minute is no re-check. Of a newborn brought from another site only readings from arrival on count; where its arrival is not known, all do."
caution = "This screens records. Checking again is not warming: look at what the next reading was. Local policy decides how often to measure."
balancing = ["warm_excess"]
look_at = ["temperature: readings after the cold one, their times and sites"]
value_unit = "°C"
version = "1.1"

[gravity]
level = "serious"
why = "Without a second reading nobody knows whether the newborn got warm."

[gravity.grades.mild]
level = "process"
why = "A newborn a little below the range, not checked again in time: how the unit works, not one record."

[gravity.grades.severe]
level = "sentinel"
why = "A newborn below 32.0 °C without a second reading: nobody can see from the record that it was warmed."
states = { not_documented = "sentinel" }

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "each cold reading has its own due re-check, not only the first of an episode; a probe on the skin is no temperature of the body by default; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "30 minutes after the cold reading still counts, 31 is late; 36.5 begins no episode"
given.admission = """
record_id
after30
after31
never_cold
"""
given.observation = """
record_id  | kind        | minutes | value | site
after30    | temperature | 20      | 36.4  | axillary
after30    | temperature | 50      | 36.7  | axillary
after31    | temperature | 20      | 36.4  | axillary
after31    | temperature | 51      | 36.7  | axillary
never_cold | temperature | 20      | 36.5  | axillary
"""
expect = """
record_id | item | state | minutes
after30   | 1    | met   | 30
after31   | 1    | late  | 31
"""

[[examples]]
because = "still cold at the next reading: a re-check is due after that one too; the last cold reading with none after it is a gap"
given.admission = """
record_id
longer
twice
still_cold
"""
given.observation = """
record_id | kind        | minutes | value | site
longer    | temperature | 10      | 36.0  | axillary
longer    | temperature | 30      | 36.2  | axillary
longer    | temperature | 90      | 36.8  | axillary
twice     | temperature | 10      | 36.0  | axillary
twice     | temperature | 30      | 36.6  | axillary
twice     | temperature | 120     | 36.1  | axillary
twice     | temperature | 200     | 36.6  | axillary
still_cold | temperature | 10      | 36.0  | axillary
still_cold | temperature | 40      | 36.1  | axillary
"""
expect = """
record_id | item | state | minutes
longer    | 1    | met   | 20
longer    | 2    | late  | 60
twice     | 1    | met   | 20
twice     | 2    | late  | 80
still_cold | 1    | met   | 30
still_cold | 2    | not_documented |
"""

[[examples]]
because = "no later reading is not documented, a same-minute repeat is none; a masked one in the window or without a time is unusable; a usable one is taken"
given.admission = """
record_id
alone
same_minute
bad_value
before_birth
bad_later
bad_at_30
bad_at_once
mixed
"""
given.observation = """
record_id    | kind        | minutes | value | site     | unusable
alone        | temperature | 20      | 36.0  | axillary |
same_minute  | temperature | 20      | 36.0  | axillary |
same_minute  | temperature | 20      | 36.6  | axillary |
bad_value    | temperature | 20      | 36.0  | axillary |
bad_value    | temperature | 40      |       | axillary | value
before_birth | temperature | 20      | 36.0  | axillary |
before_birth | temperature |         | 36.7  | axillary | minutes
bad_later    | temperature | 20      | 36.0  | axillary |
bad_later    | temperature | 90      |       | axillary | value
bad_at_30    | temperature | 20      | 36.0  | axillary |
bad_at_30    | temperature | 50      |       | axillary | value
bad_at_once  | temperature | 20      | 36.0  | axillary |
bad_at_once  | temperature | 20      |       | axillary | value
mixed        | temperature | 20      | 36.0  | axillary |
mixed        | temperature | 30      |       | axillary | value
mixed        | temperature | 45      | 36.7  | axillary |
"""
expect = """
record_id    | item | state          | minutes
alone        | 1    | not_documented |
same_minute  | 1    | not_documented |
bad_value    | 1    | unusable       |
before_birth | 1    | unusable       |
bad_later    | 1    | not_documented |
bad_at_30    | 1    | unusable       |
bad_at_once  | 1    | not_documented |
mixed        | 1    | met            | 25
"""

[[examples]]
because = "moved out before the reading was due is an exception, unless it was taken; death, comfort-care plan and cooling exclude the episode; cooling after it closed does not"
given.admission = """
record_id   | live_birth | discharge_minutes | disposition
still       | false      |                   |
moved_at_40 | true       | 40                | transfer
moved_read  | true       | 40                | transfer
moved_later | true       | 100               | transfer
moved_at_50 | true       | 50                | transfer
died_at_30  | true       | 30                | died
comfort     | true       |                   |
cooled      | true       |                   |
cooled_late | true       |                   |
"""
given.care = """
record_id   | kind         | minutes | status
comfort     | comfort_care | 5       | done
cooled      | cooling      | 30      | done
cooled_late | cooling      | 120     | done
"""
given.observation = """
record_id   | kind        | minutes | value | site
still       | temperature | 20      | 35.0  | axillary
moved_at_40 | temperature | 20      | 36.0  | axillary
moved_read  | temperature | 20      | 36.0  | axillary
moved_read  | temperature | 35      | 36.6  | axillary
moved_later | temperature | 20      | 36.0  | axillary
moved_at_50 | temperature | 20      | 36.0  | axillary
died_at_30  | temperature | 20      | 36.0  | axillary
comfort     | temperature | 20      | 36.0  | axillary
cooled      | temperature | 20      | 36.0  | axillary
cooled_late | temperature | 20      | 36.0  | axillary
cooled_late | temperature | 40      | 36.0  | axillary
"""
expect = """
record_id   | item | state
still       | 1    | exclusion
moved_at_40 | 1    | exception
moved_read  | 1    | met
moved_later | 1    | not_documented
moved_at_50 | 1    | not_documented
died_at_30  | 1    | exclusion
comfort     | 1    | exclusion
cooled      | 1    | exclusion
cooled_late | 1    | met
cooled_late | 2    | not_documented
"""

[[examples]]
because = "a newborn brought from another site is followed from arrival; a unit may set a shorter window"
policy = { at_most = 15 }
given.admission = """
record_id | birth_place | arrival_minutes
brought   | other_site  | 300
at_once   | other_site  | 300
unplaced  | other_site  |
inborn    | birth_room  |
"""
given.observation = """
record_id | kind        | minutes | value | site
brought   | temperature | 200     | 35.0  | axillary
brought   | temperature | 310     | 36.0  | axillary
brought   | temperature | 325     | 36.6  | axillary
at_once   | temperature | 300     | 36.0  | axillary
at_once   | temperature | 320     | 36.6  | axillary
unplaced  | temperature | 200     | 36.0  | axillary
unplaced  | temperature | 210     | 36.6  | axillary
inborn    | temperature | 10      | 36.0  | axillary
inborn    | temperature | 26      | 36.6  | axillary
"""
expect = """
record_id | item | state | minutes
brought   | 1    | met   | 15
at_once   | 1    | late  | 20
unplaced  | 1    | met   | 10
inborn    | 1    | late  | 16
"""

[[examples]]
because = "gone home, or moved by a care item, before it was due: an exception, unless it was done before"
given.admission = """
record_id | discharge_minutes | disposition
home      | 49                | home
home_due  | 50                | home
home_read | 49                | home
moved     |                   |
"""
given.care = """
record_id | kind     | minutes | status
moved     | transfer | 25      | done
"""
given.observation = """
record_id | kind        | minutes | value | site
home      | temperature | 20      | 36.0  | axillary
home_due  | temperature | 20      | 36.0  | axillary
home_read | temperature | 20      | 36.0  | axillary
moved     | temperature | 20      | 36.0  | axillary
home_read | temperature | 30      | 36.8  | axillary
"""
expect = """
record_id | item | state          | reason
home      | 1    | exception      | went home before the window closed
home_due  | 1    | not_documented |
home_read | 1    | met            |
moved     | 1    | exception      | moved before the window closed
"""
*/
select
    newborn_id as newborn_id,
    item as item,
    is_documented as is_documented,
    next_minutes is not null as is_usable,
    next_minutes - began_minutes as minutes,
    closes_minutes as closes_minutes,
    next_minutes as judged_minutes,
    began_c as value,
    began_minutes as value_minutes,
    setting.lower_edge_c as edge,
    grade as grade,
from cold_reading
inner join setting using (newborn_id)
