/*
title = "Too warm in the first hours"
question = "Was any newborn overheated while being kept warm?"
also_called = ["hyperthermia", "overheating"]
group = "warmth"
kind = "proportion"
direction = "lower"
population = "Newborns born alive in the unit."
numerator = "Any believable body temperature above the upper edge within the first 4 hours."
anchor = "birth"
window_status = "local"
parameters = { too_warm_above_c = 37.5, far_above_c = 38.0, warm_until_minutes = 240, skin_counts = false }
follows = { skin_counts = "first_temperature" }
owner = "born_here"
exclude = ["cooling"]
exceptions = "None. What was read counts, also of a newborn that later died, was moved or was cooled. A mother's fever is not an exception: look at those newborns as a group of their own."
missing = "left_out"
sources = [
    "WHO upper edge 37.5 °C, as cited in Scientific Reports, 2020; WHO, Thermal protection of the newborn, 1997",
    "First 4 hours: local decision, no published value",
]
disagreement = "Some report above 38.0 °C instead; set too_warm_above_c."
documentation_trap = "A hot reading is often taken again and the first one overwritten; keep every row. Newborns watched more closely have more chances to show a high reading."
caution = "This screens records. A warm newborn may be overheated or ill; local policy decides what is done about a reading."
balancing = ["arrival_cold", "arrival_temperature"]
look_at = ["temperature: readings of the first 4 hours, their sites"]
value_unit = "°C"
version = "1.1"

[gravity]
level = "process"
why = "A reading a little above the range shows how warming is watched."

[gravity.grades."far above"]
level = "serious"
why = "Above 38.0 °C a newborn is overheated or ill, and the record should say which."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a probe on the skin is no temperature of the body by default; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "37.5 is in range and 37.51 is warm; any reading up to minute 240 counts, minute 241 does not"
given.admission = """
record_id
r3750
r3751
at_240
at_241
second
"""
given.observation = """
record_id | kind        | minutes | value | site
r3750     | temperature | 30      | 37.5  | axillary
r3751     | temperature | 30      | 37.51 | axillary
at_240    | temperature | 240     | 37.8  | axillary
at_241    | temperature | 30      | 36.9  | axillary
at_241    | temperature | 241     | 37.8  | axillary
second    | temperature | 30      | 36.2  | axillary
second    | temperature | 90      | 38.1  | axillary
second    | temperature | 120     | 38.4  | axillary
"""
expect = """
record_id | state   | minutes
r3750     | not_met |
r3751     | met     | 30
at_240    | met     | 240
at_241    | not_met |
second    | met     | 90
"""

[[examples]]
because = "no reading in the first hours is not documented; masked ones are unusable; a usable one beside them is taken"
given.admission = """
record_id
no_row
only_later
bad_value
before_birth
mixed
"""
given.observation = """
record_id    | kind        | minutes | value | site     | unusable
only_later   | temperature | 300     | 38.0  | axillary |
bad_value    | temperature | 30      |       | axillary | value
before_birth | temperature |         | 38.0  | axillary | minutes
mixed        | temperature | 30      |       | axillary | value
mixed        | temperature | 40      | 36.9  | axillary |
"""
expect = """
record_id    | state
no_row       | not_documented
only_later   | not_documented
bad_value    | unusable
before_birth | unusable
mixed        | not_met
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id   | live_birth | birth_place | discharge_minutes | disposition
still       | false      | birth_room  |                   |
died_at_30  | true       | birth_room  | 30                | died
moved_at_40 | true       | birth_room  | 40                | transfer
elsewhere   | true       | other_site  |                   |
comfort     | true       | birth_room  |                   |
cooled      | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
cooled    | cooling      | 30      | done
"""
given.observation = """
record_id   | kind        | minutes | value | site
moved_at_40 | temperature | 30      | 37.9  | axillary
elsewhere   | temperature | 30      | 37.9  | axillary
cooled      | temperature | 10      | 37.9  | axillary
"""
expect = """
record_id   | state
still       | exclusion
died_at_30  | exclusion
moved_at_40 | met
elsewhere   | exclusion
comfort     | exclusion
cooled      | met
"""

[[examples]]
because = "a unit may report fever instead"
policy = { too_warm_above_c = 38.0 }
given.admission = """
record_id
warm
hot
"""
given.observation = """
record_id | kind        | minutes | value | site
warm      | temperature | 30      | 38.0  | axillary
hot       | temperature | 30      | 38.01 | axillary
"""
expect = """
record_id | state
warm      | not_met
hot       | met
"""

[[examples]]
because = "a reading before a move, a death or cooling counts; one after cooling or a plan of comfort began does not; moved unread is an exception"
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
cold_moved   | temperature | 20      | 37.9  | axillary
cold_died    | temperature | 20      | 37.9  | axillary
cold_cooled  | temperature | 20      | 37.9  | axillary
read_cooled  | temperature | 40      | 37.9  | axillary
read_comfort | temperature | 40      | 37.9  | axillary
fine_moved   | temperature | 20      | 36.8  | axillary
"""
expect = """
record_id    | state
cold_moved   | met
cold_died    | met
cold_cooled  | met
read_cooled  | exclusion
read_comfort | exclusion
unread_care  | exception
fine_moved   | not_met
"""
*/
with readings as (
    select
        reading.newborn_id as newborn_id,
        bool_or(reading.is_usable) as is_usable,
        min(reading.minutes) filter (where reading.is_usable) as first_minutes,
        min(reading.minutes) filter (
            where reading.is_usable and reading.value > setting.too_warm_above_c
        ) as warm_minutes,
        max(reading.value) filter (where reading.is_usable) as highest_c,
        min_by(reading.minutes, (-reading.value, reading.minutes)) filter (
            where reading.is_usable
        ) as highest_minutes,
    from body_temperature as reading
    inner join setting on setting.newborn_id = reading.newborn_id
    where reading.minutes is null or reading.minutes <= setting.warm_until_minutes
    group by reading.newborn_id
)

select
    newborn.newborn_id as newborn_id,
    readings.newborn_id is not null as is_documented,
    coalesce(readings.is_usable, false) as is_usable,
    readings.warm_minutes is not null as is_met,
    readings.warm_minutes as minutes,
    setting.warm_until_minutes as closes_minutes,
    readings.first_minutes as judged_minutes,
    readings.highest_c as value,
    readings.highest_minutes as value_minutes,
    setting.too_warm_above_c as edge,
    if(readings.highest_c > setting.far_above_c, 'far above', null) as grade,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join readings on readings.newborn_id = newborn.newborn_id
