/*
title = "Cold on arrival"
question = "How many newborns arrived cold, and how cold?"
also_called = ["hypothermia", "cold stress"]
group = "warmth"
kind = "bands"
direction = "lower"
population = "Newborns born alive in the unit, or brought to it before 24 hours of age."
numerator = "The first body temperature of the arrival window lies in the band."
anchor = "arrival at the receiving unit; birth where mother and newborn stayed in one room"
window_status = "local"
parameters = { arrival_window_minutes = 60, skin_counts = false }
follows = { arrival_window_minutes = "arrival_temperature", arrived_before = "arrival_temperature", skin_counts = "first_temperature" }
owner = "present"
arrived_before = 1440
exclude = ["cooling"]
exceptions = "None. Where the arrival time is not known, the window is taken to close no sooner than its own length after birth."
missing = "left_out"
sources = [
    "WHO bands as cited in PLoS One, 2015: mild 36.0 to 36.4, moderate 32.0 to 35.9, severe below 32.0 °C",
    "Arrival window of 60 minutes: local decision, no published value",
]
disagreement = "The printed bands leave gaps between one decimal and the next; here each band runs on to the edge of the warmer one. Some papers call a newborn cold only below 36.0 °C. A revision of the WHO bands after 1997 was not looked for."
documentation_trap = "Readings already rounded to one decimal, or taken in Fahrenheit, sit on the edges. A newborn with no believable arrival reading is left out of the rate and shown in the bounds. Of several readings in one minute the lowest stands."
caution = "This screens records. A cold reading can be a sign of illness; local policy decides what is done about it. Severe readings are rare: look at each record."
balancing = ["warm_excess", "skin_contact_start"]
look_at = ["temperature: first reading after arrival, its time and site", "admission: arrival time, room temperature", "care: drying, head cover, skin contact"]
version = "1.1"

[gravity]
level = "process"
why = "A newborn a little below the range is common, and says how warm the rooms and the first minutes are."
source = "WHO, Thermal protection of the newborn, 1997, for the three bands; which of them is how grave: local decision"

[gravity.bands.mild]
level = "process"

[gravity.bands.moderate]
level = "serious"
why = "Below 36.0 °C is moderate cold: a newborn loses strength, and may be ill."

[gravity.bands.severe]
level = "sentinel"
why = "Below 32.0 °C is severe cold: a newborn is in acute danger, and in a unit it should not happen."

[gravity.bands.any]
level = "process"

[[bands]]
id = "mild"
title = "Mildly cold on arrival (36.0 to below 36.5 °C)"
at_least = 36.0
below = 36.5

[[bands]]
id = "moderate"
title = "Moderately cold on arrival (32.0 to below 36.0 °C)"
at_least = 32.0
below = 36.0

[[bands]]
id = "severe"
title = "Severely cold on arrival (below 32.0 °C)"
below = 32.0

[[bands]]
id = "any"
title = "Cold on arrival, any band (below 36.5 °C)"
below = 36.5

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a probe on the skin is no temperature of the body by default; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "36.44 (97.6 degF) is mild, 36.0 is mild and not moderate, 32.0 (89.6 degF) is moderate and not severe, 36.5 is not cold"
given.admission = """
record_id
r3650
r3644
r3600
r3599
r3200
r3199
"""
given.observation = """
record_id | kind        | minutes | value | site
r3650     | temperature | 20      | 36.5  | axillary
r3644     | temperature | 20      | 36.44 | axillary
r3600     | temperature | 20      | 36.0  | axillary
r3599     | temperature | 20      | 35.99 | axillary
r3200     | temperature | 20      | 32.0  | axillary
r3199     | temperature | 20      | 31.99 | axillary
"""
expect = """
record_id | measure_id            | state
r3650     | arrival_cold_mild     | not_met
r3650     | arrival_cold_any      | not_met
r3644     | arrival_cold_mild     | met
r3644     | arrival_cold_moderate | not_met
r3644     | arrival_cold_any      | met
r3600     | arrival_cold_mild     | met
r3600     | arrival_cold_moderate | not_met
r3599     | arrival_cold_mild     | not_met
r3599     | arrival_cold_moderate | met
r3200     | arrival_cold_moderate | met
r3200     | arrival_cold_severe   | not_met
r3200     | arrival_cold_any      | met
r3199     | arrival_cold_moderate | not_met
r3199     | arrival_cold_severe   | met
r3199     | arrival_cold_any      | met
"""

[[examples]]
because = "the first reading of the arrival window decides; one after the window does not count"
given.admission = """
record_id | arrival_minutes | birth_place
rewarmed  | 30              | birth_room
cold_late | 30              | birth_room
at_close  | 30              | birth_room
brought   | 300             | other_site
"""
given.observation = """
record_id | kind        | minutes | value | site
rewarmed  | temperature | 10      | 36.9  | axillary
rewarmed  | temperature | 35      | 36.2  | axillary
rewarmed  | temperature | 65      | 36.8  | axillary
cold_late | temperature | 91      | 35.0  | axillary
at_close  | temperature | 90      | 35.0  | axillary
brought   | temperature | 310     | 36.1  | axillary
"""
expect = """
record_id | measure_id            | state          | minutes
rewarmed  | arrival_cold_mild     | met            | 35
cold_late | arrival_cold_moderate | not_documented |
at_close  | arrival_cold_moderate | met            | 90
brought   | arrival_cold_mild     | met            | 310
"""

[[examples]]
because = "no reading, a masked value, a masked time and a reading that cannot be placed never flatter the rate"
given.admission = """
record_id    | birth_place | arrival_minutes | unusable
no_row       | birth_room  |                 |
bad_value    | birth_room  |                 |
before_birth | birth_room  |                 |
bad_arrival  | birth_room  |                 | arrival_minutes
mixed        | birth_room  |                 |
"""
given.observation = """
record_id    | kind        | minutes | value | site     | unusable
bad_value    | temperature | 30      |       | axillary | value
before_birth | temperature |         | 35.0  | axillary | minutes
bad_arrival  | temperature | 30      | 35.0  | axillary |
mixed        | temperature | 20      |       | axillary | value
mixed        | temperature | 30      | 36.2  | axillary |
"""
expect = """
record_id    | measure_id       | state
no_row       | arrival_cold_any | not_documented
bad_value    | arrival_cold_any | unusable
before_birth | arrival_cold_any | unusable
bad_arrival  | arrival_cold_any | unusable
mixed        | arrival_cold_any | met
"""

[[examples]]
because = "standard exclusions; a newborn brought at 24 hours or later is out too"
given.admission = """
record_id   | live_birth | birth_place | arrival_minutes | discharge_minutes | disposition
still       | false      | birth_room  |                 |                   |
died_at_30  | true       | birth_room  |                 | 30                | died
moved_at_40 | true       | birth_room  |                 | 40                | transfer
comfort     | true       | birth_room  |                 |                   |
cooled      | true       | birth_room  |                 |                   |
brought_old | true       | other_site  | 1440            |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
cooled    | cooling      | 30      | done
"""
given.observation = """
record_id   | kind        | minutes | value | site
moved_at_40 | temperature | 30      | 35.0  | axillary
cooled      | temperature | 45      | 34.0  | rectal
brought_old | temperature | 1450    | 36.0  | axillary
"""
expect = """
record_id   | measure_id       | state
still       | arrival_cold_any | exclusion
died_at_30  | arrival_cold_any | exclusion
moved_at_40 | arrival_cold_any | met
comfort     | arrival_cold_any | exclusion
cooled      | arrival_cold_any | exclusion
brought_old | arrival_cold_any | exclusion
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
record_id    | measure_id       | state
cold_moved   | arrival_cold_any | met
cold_died    | arrival_cold_any | met
cold_cooled  | arrival_cold_any | met
read_cooled  | arrival_cold_any | exclusion
read_comfort | arrival_cold_any | exclusion
unread_care  | arrival_cold_any | exception
fine_moved   | arrival_cold_any | not_met
"""
*/
select
    newborn_id as newborn_id,
    is_documented as is_documented,
    is_usable as is_usable,
    minutes as minutes,
    closes_minutes as closes_minutes,
    minutes as judged_minutes,
    value_c as value,
from arrival_reading
