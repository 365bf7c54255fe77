/*
title = "Lowest temperature of the first day"
question = "In the first 24 hours, how many newborns were ever cold, and how cold?"
also_called = ["hypothermia", "cold stress"]
group = "warmth"
kind = "bands"
direction = "lower"
population = "Newborns born alive in the unit, or brought to it before 24 hours of age."
numerator = "The lowest body temperature taken here in the first 24 hours, before any cooling, lies in the band."
anchor = "birth"
window_status = "local"
parameters = { lowest_until_minutes = 1440, skin_counts = false }
follows = { arrived_before = "arrival_temperature", skin_counts = "first_temperature" }
owner = "present"
arrived_before = 1440
exclude = ["cooling"]
exceptions = "None. What was read counts, also of a newborn that later died, was moved or was cooled."
missing = "left_out"
sources = [
    "WHO bands as cited in PLoS One, 2015: mild 36.0 to 36.4, moderate 32.0 to 35.9, severe below 32.0 °C",
    "The lowest of the first 24 hours, beside the first on arrival: local decision, no published value",
]
disagreement = "Some count the first 4 or 12 hours: set lowest_until_minutes. As on arrival, each band runs on to the edge of the warmer one."
documentation_trap = "Newborns who were cold are read more often, so the lowest of many readings is lower than that of few: read it beside how often newborns are observed. A newborn with no believable reading is left out of the rate and shown in the bounds. Of a newborn brought from another site only readings from arrival on count."
caution = "This screens records. A cold reading can be a sign of illness; local policy decides what is done about it."
balancing = ["warm_excess", "half_hourly_observation"]
look_at = ["temperature: the lowest reading, its time and site, and the one after it"]
version = "1.0"

[gravity]
level = "process"
why = "A newborn a little below the range once in a day is common."
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
title = "Mildly cold at the lowest of the first day (36.0 to below 36.5 °C)"
at_least = 36.0
below = 36.5

[[bands]]
id = "moderate"
title = "Moderately cold at the lowest of the first day (32.0 to below 36.0 °C)"
at_least = 32.0
below = 36.0

[[bands]]
id = "severe"
title = "Severely cold at the lowest of the first day (below 32.0 °C)"
below = 32.0

[[bands]]
id = "any"
title = "Ever cold in the first day, any band (below 36.5 °C)"
below = 36.5

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "the lowest decides, not the first; minute 1440 still counts, 1441 does not; 36.5 is not cold, 36.0 is mild, 35.99 moderate, 32.0 moderate, 31.99 severe"
given.admission = """
record_id
fell_later
at1440
at1441
r3650
r3600
r3599
r3200
r3199
"""
given.observation = """
record_id  | kind        | minutes | value | site
fell_later | temperature | 20      | 36.8  | axillary
fell_later | temperature | 300     | 36.2  | axillary
fell_later | temperature | 600     | 36.4  | axillary
at1440     | temperature | 20      | 36.8  | axillary
at1440     | temperature | 1440    | 35.5  | axillary
at1441     | temperature | 20      | 36.8  | axillary
at1441     | temperature | 1441    | 35.5  | axillary
r3650      | temperature | 20      | 36.5  | axillary
r3600      | temperature | 20      | 36.0  | axillary
r3599      | temperature | 20      | 35.99 | axillary
r3200      | temperature | 20      | 32.0  | axillary
r3199      | temperature | 20      | 31.99 | axillary
"""
expect = """
record_id  | measure_id                | state   | minutes
fell_later | lowest_first_day_mild     | met     | 300
fell_later | lowest_first_day_any      | met     | 300
at1440     | lowest_first_day_moderate | met     | 1440
at1441     | lowest_first_day_any      | not_met | 20
r3650      | lowest_first_day_any      | not_met | 20
r3600      | lowest_first_day_mild     | met     | 20
r3600      | lowest_first_day_moderate | not_met | 20
r3599      | lowest_first_day_mild     | not_met | 20
r3599      | lowest_first_day_moderate | met     | 20
r3200      | lowest_first_day_moderate | met     | 20
r3200      | lowest_first_day_severe   | not_met | 20
r3199      | lowest_first_day_severe   | met     | 20
r3199      | lowest_first_day_moderate | not_met | 20
"""

[[examples]]
because = "of equal readings the first stands; none is not documented, a masked one unusable, a usable one beside it is taken; a probe on the skin is none"
given.admission = """
record_id
equal
no_row
bad_value
bad_time
mixed
probe
"""
given.observation = """
record_id | kind        | minutes | value | site     | unusable
equal     | temperature | 200     | 36.3  | axillary |
equal     | temperature | 100     | 36.3  | rectal   |
bad_value | temperature | 30      |       | axillary | value
bad_time  | temperature |         | 35.0  | axillary | minutes
mixed     | temperature | 20      |       | axillary | value
mixed     | temperature | 30      | 36.2  | axillary |
probe     | temperature | 30      | 35.2  | skin     |
"""
expect = """
record_id | measure_id            | state          | minutes
equal     | lowest_first_day_mild | met            | 100
no_row    | lowest_first_day_any  | not_documented |
bad_value | lowest_first_day_any  | unusable       |
bad_time  | lowest_first_day_any  | unusable       |
mixed     | lowest_first_day_mild | met            | 30
probe     | lowest_first_day_any  | not_documented |
"""

[[examples]]
because = "what was read counts whatever came after; readings during cooling do not, nor those before a newborn was brought; one of whom nothing was read before the end is set apart"
given.admission = """
record_id    | live_birth | birth_place | arrival_minutes | discharge_minutes | disposition
moved_read   | true       | birth_room  |                 | 100               | transfer
moved_unread | true       | birth_room  |                 | 100               | transfer
died_read    | true       | birth_room  |                 | 100               | died
died_unread  | true       | birth_room  |                 | 100               | died
cooled_read  | true       | birth_room  |                 |                   |
cooled_only  | true       | birth_room  |                 |                   |
comfort      | true       | birth_room  |                 |                   |
brought      | true       | other_site  | 300             |                   |
brought_old  | true       | other_site  | 1440            |                   |
still        | false      | birth_room  |                 |                   |
"""
given.care = """
record_id   | kind         | minutes | status
cooled_read | cooling      | 60      | done
cooled_only | cooling      | 60      | done
comfort     | comfort_care | 5       | done
"""
given.observation = """
record_id   | kind        | minutes | value | site
moved_read  | temperature | 40      | 35.5  | axillary
died_read   | temperature | 40      | 35.5  | axillary
cooled_read | temperature | 40      | 36.2  | rectal
cooled_read | temperature | 90      | 33.5  | rectal
cooled_only | temperature | 90      | 33.5  | rectal
comfort     | temperature | 40      | 35.5  | axillary
brought     | temperature | 200     | 35.5  | axillary
brought     | temperature | 310     | 36.3  | axillary
brought_old | temperature | 1440    | 35.5  | axillary
still       | temperature | 40      | 30.0  | axillary
"""
expect = """
record_id    | measure_id                | state
moved_read   | lowest_first_day_moderate | met
moved_unread | lowest_first_day_any      | exception
died_read    | lowest_first_day_moderate | met
died_unread  | lowest_first_day_any      | exclusion
cooled_read  | lowest_first_day_mild     | met
cooled_only  | lowest_first_day_any      | exclusion
comfort      | lowest_first_day_any      | exclusion
brought      | lowest_first_day_mild     | met
brought_old  | lowest_first_day_any      | exclusion
still        | lowest_first_day_any      | exclusion
"""

[[examples]]
because = "a unit may look at a shorter time"
policy = { lowest_until_minutes = 240 }
given.admission = """
record_id
at241
"""
given.observation = """
record_id | kind        | minutes | value | site
at241     | temperature | 30      | 36.8  | axillary
at241     | temperature | 241     | 36.0  | axillary
"""
expect = """
record_id | measure_id           | state   | minutes
at241     | lowest_first_day_any | not_met | 30
"""
*/
with watched as (
    select
        setting.newborn_id as newborn_id,
        way.cooling_minutes as cooling_minutes,
        setting.lowest_until_minutes as ends_minutes,
    from setting
    inner join mart.way as way on way.newborn_id = setting.newborn_id
),

lowest as (
    select
        reading.newborn_id as newborn_id,
        min(reading.value) filter (where reading.is_usable) as value_c,
        first(reading.minutes order by reading.value, reading.minutes) filter (
            where reading.is_usable
        ) as minutes,
    from temperature_here as reading
    inner join watched on watched.newborn_id = reading.newborn_id
    where
        reading.minutes is null
        or (
            reading.minutes <= watched.ends_minutes
            and not coalesce(reading.minutes >= watched.cooling_minutes, false)
        )
    group by reading.newborn_id
)

select
    watched.newborn_id as newborn_id,
    lowest.newborn_id is not null as is_documented,
    lowest.value_c is not null as is_usable,
    lowest.minutes as minutes,
    watched.ends_minutes as closes_minutes,
    lowest.minutes as judged_minutes,
    lowest.value_c as value,
from watched
left join lowest on lowest.newborn_id = watched.newborn_id
