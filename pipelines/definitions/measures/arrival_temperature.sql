/*
title = "Arrival temperature in range"
question = "Was the newborn neither cold nor hot on arrival?"
also_called = ["hypothermia", "normothermia", "admission temperature"]
group = "warmth"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit, or brought to it before 24 hours of age."
numerator = "The first body temperature of the arrival window lies in range, both edges included."
anchor = "arrival at the receiving unit; birth where mother and newborn stayed in one room"
window_status = "local"
parameters = { lower_edge_c = 36.5, upper_edge_c = 37.5, arrival_window_minutes = 60, skin_counts = false }
follows = { skin_counts = "first_temperature" }
owner = "present"
arrived_before = 1440
exclude = ["cooling"]
exceptions = "None. Where the arrival time is not known, the window is taken to close no sooner than its own length after birth."
missing = "not_met"
sources = [
    "WHO range 36.5 to 37.5 °C, as cited in Scientific Reports, 2020; WHO, Thermal protection of the newborn, 1997",
    "Arrival window of 60 minutes: local decision, no published value",
]
disagreement = "Some teaching ends the range at 37.4 °C or lower. Axilla, rectum and skin read differently; no offset is applied."
documentation_trap = "Readings go missing most often in the sickest newborns and in the smoothest arrivals, so look at the bounds. A reading after the window is not an arrival temperature: the newborn then counts as not documented. A blank arrival time is read as one room only for newborns born in the unit. Of several readings in one minute the lowest stands."
caution = "This screens records. The range is for reading groups, not for judging one newborn; local policy decides what is done about a reading."
balancing = ["arrival_cold", "warm_excess", "skin_contact_start"]
look_at = ["temperature: first reading after arrival, its time and site", "admission: arrival time"]
value_unit = "°C"
version = "1.1"

[gravity]
level = "process"
why = "A reading out of range is told by how cold or how warm it was, in the measures of cold and of warmth."

[gravity.states]
unusable = { level = "serious", why = "A reading that cannot be believed may hide a newborn who was very cold." }

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a probe on the skin is no temperature of the body by default; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "36.5 and 37.5 are in range, 36.44 (97.6 degF) and 37.51 are not"
given.admission = """
record_id | arrival_minutes
low_edge  | 30
high_edge | 30
mild      | 30
warm      | 30
"""
given.observation = """
record_id | kind        | minutes | value | site
low_edge  | temperature | 40      | 36.5  | axillary
high_edge | temperature | 40      | 37.5  | axillary
mild      | temperature | 40      | 36.44 | axillary
warm      | temperature | 40      | 37.51 | axillary
"""
expect = """
record_id | state   | minutes
low_edge  | met     | 40
high_edge | met     | 40
mild      | not_met | 40
warm      | not_met | 40
"""

[[examples]]
because = "the window runs 60 minutes from arrival, from birth where nobody moved; only its first reading counts"
given.admission = """
record_id  | arrival_minutes | birth_place
at_close   | 30              | birth_room
too_late   | 30              | birth_room
too_early  | 30              | birth_room
first_cold | 30              | birth_room
one_room   |                 | birth_room
room_late  |                 | birth_room
"""
given.observation = """
record_id  | kind        | minutes | value | site
at_close   | temperature | 90      | 36.8  | axillary
too_late   | temperature | 91      | 36.8  | axillary
too_early  | temperature | 29      | 36.8  | axillary
first_cold | temperature | 25      | 36.9  | axillary
first_cold | temperature | 31      | 36.1  | axillary
first_cold | temperature | 60      | 36.9  | axillary
one_room   | temperature | 60      | 36.9  | axillary
room_late  | temperature | 61      | 36.9  | axillary
"""
expect = """
record_id  | state          | minutes
at_close   | met            | 90
too_late   | not_documented |
too_early  | not_documented |
first_cold | not_met        | 31
one_room   | met            | 60
room_late  | not_documented |
"""

[[examples]]
because = "outborn newborns count from their arrival; without a believable arrival time the reading cannot be placed"
given.admission = """
record_id    | birth_place    | arrival_minutes | discharge_minutes | disposition | unusable
brought      | other_site     | 300             |                   |             |
brought_old  | other_site     | 1440            |                   |             |
inborn_old   | operating_room | 1440            |                   |             |
no_arrival   | other_site     |                 |                   |             |
moved_at_40  | other_site     |                 | 40                | transfer    |
moved_at_90  | other_site     |                 | 90                | transfer    |
on_the_way   | before_arrival |                 |                   |             |
bad_arrival  | birth_room     |                 |                   |             | arrival_minutes
bad_unread   | birth_room     |                 |                   |             | arrival_minutes
"""
given.observation = """
record_id    | kind        | minutes | value | site
brought      | temperature | 320     | 36.7  | axillary
brought_old  | temperature | 1450    | 36.7  | axillary
inborn_old   | temperature | 1450    | 36.7  | axillary
no_arrival   | temperature | 320     | 36.7  | axillary
on_the_way   | temperature | 40      | 36.7  | axillary
bad_arrival  | temperature | 40      | 36.7  | axillary
"""
expect = """
record_id    | state
brought      | met
brought_old  | exclusion
inborn_old   | met
no_arrival   | unusable
moved_at_40  | exception
moved_at_90  | not_documented
on_the_way   | unusable
bad_arrival  | unusable
bad_unread   | not_documented
"""

[[examples]]
because = "a masked value or time is unusable; a usable reading beside it is taken; a masked value outside the window says nothing"
given.admission = """
record_id
bad_value
before_birth
mixed
bad_later
"""
given.observation = """
record_id    | kind        | minutes | value | site     | unusable
bad_value    | temperature | 30      |       | axillary | value
before_birth | temperature |         | 36.8  | axillary | minutes
mixed        | temperature | 20      |       | axillary | value
mixed        | temperature | 25      | 36.7  | axillary |
bad_later    | temperature | 300     |       | axillary | value
"""
expect = """
record_id    | state
bad_value    | unusable
before_birth | unusable
mixed        | met
bad_later    | not_documented
"""

[[examples]]
because = "standard exclusions: stillbirth, death, transfer at 40 minutes, comfort-care plan, cooling from minute 30"
given.admission = """
record_id   | live_birth | discharge_minutes | disposition
still       | false      |                   |
died_at_30  | true       | 30                | died
moved_at_40 | true       | 40                | transfer
comfort     | true       |                   |
cooled      | true       |                   |
cooled_late | true       |                   |
"""
given.care = """
record_id   | kind         | minutes | status
comfort     | comfort_care | 5       | done
cooled      | cooling      | 30      | done
cooled_late | cooling      | 200     | done
"""
given.observation = """
record_id   | kind        | minutes | value | site
cooled      | temperature | 45      | 34.0  | rectal
cooled_late | temperature | 45      | 36.6  | rectal
"""
expect = """
record_id   | state
still       | exclusion
died_at_30  | exclusion
moved_at_40 | exception
comfort     | exclusion
cooled      | exclusion
cooled_late | met
"""

[[examples]]
because = "a unit may set the upper edge and the arrival window"
policy = { upper_edge_c = 37.4, arrival_window_minutes = 30 }
given.admission = """
record_id
warm
slow
"""
given.observation = """
record_id | kind        | minutes | value | site
warm      | temperature | 30      | 37.5  | axillary
slow      | temperature | 31      | 37.0  | axillary
"""
expect = """
record_id | state
warm      | not_met
slow      | not_documented
"""

[[examples]]
because = "a reading before a move, a death or cooling counts; one after cooling or a plan of comfort began does not; moved unread is an exception, by a care item too"
given.admission = """
record_id    | discharge_minutes | disposition
cold_moved   | 40                | transfer
cold_died    | 30                | died
cold_cooled  |                   |
read_cooled  |                   |
read_comfort |                   |
unread_care  |                   |
fine_moved   |                   |
"""
given.care = """
record_id    | kind         | minutes | status
cold_cooled  | cooling      | 30      | done
read_cooled  | cooling      | 30      | done
read_comfort | comfort_care | 30      | done
unread_care  | transfer     | 40      | done
fine_moved   | transfer     | 40      | done
"""
given.observation = """
record_id    | kind        | minutes | value | site
cold_moved   | temperature | 20      | 36.0  | axillary
cold_died    | temperature | 20      | 36.0  | axillary
cold_cooled  | temperature | 20      | 35.0  | axillary
read_cooled  | temperature | 40      | 35.0  | axillary
read_comfort | temperature | 40      | 36.8  | axillary
fine_moved   | temperature | 20      | 36.8  | axillary
"""
expect = """
record_id    | state
cold_moved   | not_met
cold_died    | not_met
cold_cooled  | not_met
read_cooled  | exclusion
read_comfort | exclusion
unread_care  | exception
fine_moved   | met
"""
*/
select
    reading.newborn_id as newborn_id,
    reading.is_documented as is_documented,
    reading.is_usable as is_usable,
    coalesce(reading.value_c between setting.lower_edge_c and setting.upper_edge_c, false)
        as is_met,
    reading.minutes as minutes,
    reading.closes_minutes as closes_minutes,
    reading.minutes as judged_minutes,
    reading.value_c as value,
    if(reading.value_c > setting.upper_edge_c, setting.upper_edge_c, setting.lower_edge_c) as edge,
from arrival_reading as reading
inner join setting on setting.newborn_id = reading.newborn_id
