/*
title = "Back in range after a cold reading"
question = "After a cold reading, did the temperature come back into range in time?"
also_called = ["hypothermia", "rewarming"]
group = "warmth"
kind = "episode"
direction = "higher"
population = "Cold episodes of newborns born alive. An episode begins at the first reading below the lower edge; another begins only after a reading at or above it."
numerator = "A later body temperature between both edges, edges included, was taken inside the window."
anchor = "the cold reading that began the episode"
window = { at_least = 0, at_most = 120 }
window_status = "local"
parameters = { lower_edge_c = 36.5, upper_edge_c = 37.5, skin_counts = false }
follows = { lower_edge_c = "arrival_temperature", upper_edge_c = "arrival_temperature", skin_counts = "first_temperature" }
owner = "present"
going_home = "ends"
exclude = ["cooling"]
exceptions = "None."
missing = "not_met"
sources = [
    "Window of 120 minutes: local decision, no published value",
    "Frontiers in Pediatrics, 2023, and ILCOR, 2023 (draft): how fast to rewarm is not settled",
    "WHO range 36.5 to 37.5 °C, as cited in Scientific Reports, 2020",
]
disagreement = "Fast and slow rewarming have both been studied without a clear winner; units set 60 to 240 minutes. Some teaching ends the range at 37.4 °C: set upper_edge_c."
documentation_trap = "A newborn who was warmed but not read again looks like one who stayed cold. A rise from cold to above the upper edge is not a return to range. Readings in one minute are one reading, and the lowest stands."
caution = "This screens records. It does not say how to warm a newborn; a newborn who stays cold may be ill. Local policy decides what is done."
balancing = ["warm_excess", "glucose_low_risk"]
look_at = ["temperature: readings after the cold one, their times and sites"]
value_unit = "°C"
version = "1.1"

[gravity]
level = "serious"
why = "A newborn who stays cold uses up strength, and may be ill."

[gravity.grades.mild]
level = "process"
why = "A newborn a little below the range, not yet back in it: how the unit works, not one record."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a probe on the skin is no temperature of the body by default; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "120 minutes after the cold reading still counts, 121 is late; 36.5 and 37.5 are in range, 36.49 and 37.51 are not"
given.admission = """
record_id
at120
at121
low_edge
high_edge
below
above
"""
given.observation = """
record_id | kind        | minutes | value | site
at120     | temperature | 20      | 36.4  | axillary
at120     | temperature | 140     | 36.7  | axillary
at121     | temperature | 20      | 36.4  | axillary
at121     | temperature | 141     | 36.7  | axillary
low_edge  | temperature | 20      | 36.0  | axillary
low_edge  | temperature | 50      | 36.5  | axillary
high_edge | temperature | 20      | 36.0  | axillary
high_edge | temperature | 50      | 37.5  | axillary
below     | temperature | 20      | 36.0  | axillary
below     | temperature | 50      | 36.49 | axillary
above     | temperature | 20      | 36.0  | axillary
above     | temperature | 50      | 37.51 | axillary
"""
expect = """
record_id | item | state   | minutes
at120     | 1    | met     | 120
at121     | 1    | late    | 121
low_edge  | 1    | met     | 30
high_edge | 1    | met     | 30
below     | 1    | not_met |
above     | 1    | not_met |
"""

[[examples]]
because = "each episode has its own return; the first reading in range counts, not the next reading"
given.admission = """
record_id
longer
twice
"""
given.observation = """
record_id | kind        | minutes | value | site
longer    | temperature | 10      | 36.0  | axillary
longer    | temperature | 30      | 36.2  | axillary
longer    | temperature | 90      | 36.8  | axillary
twice     | temperature | 10      | 36.0  | axillary
twice     | temperature | 30      | 36.6  | axillary
twice     | temperature | 120     | 36.1  | axillary
twice     | temperature | 300     | 36.6  | axillary
"""
expect = """
record_id | item | state | minutes
longer    | 1    | met   | 80
twice     | 1    | met   | 20
twice     | 2    | late  | 180
"""

[[examples]]
because = "no later reading is not documented, a same-minute repeat is none; a masked one inside the window or without a time is unusable; a usable one is taken"
given.admission = """
record_id
alone
same_minute
bad_value
before_birth
bad_later
mixed
still_cold
"""
given.observation = """
record_id    | kind        | minutes | value | site     | unusable
alone        | temperature | 20      | 36.0  | axillary |
same_minute  | temperature | 20      | 36.0  | axillary |
same_minute  | temperature | 20      | 36.6  | axillary |
bad_value    | temperature | 20      | 36.0  | axillary |
bad_value    | temperature | 140     |       | axillary | value
before_birth | temperature | 20      | 36.0  | axillary |
before_birth | temperature |         | 36.7  | axillary | minutes
bad_later    | temperature | 20      | 36.0  | axillary |
bad_later    | temperature | 141     |       | axillary | value
mixed        | temperature | 20      | 36.0  | axillary |
mixed        | temperature | 30      |       | axillary | value
mixed        | temperature | 45      | 36.7  | axillary |
still_cold   | temperature | 20      | 36.0  | axillary |
still_cold   | temperature | 300     | 36.2  | axillary |
"""
expect = """
record_id    | item | state          | minutes
alone        | 1    | not_documented |
same_minute  | 1    | not_documented |
bad_value    | 1    | unusable       |
before_birth | 1    | unusable       |
bad_later    | 1    | not_documented |
mixed        | 1    | met            | 25
still_cold   | 1    | not_met        |
"""

[[examples]]
because = "moved out before the window closed is an exception unless it was in range again; death, comfort-care plan and cooling exclude; a newborn brought in counts from arrival"
given.admission = """
record_id    | live_birth | birth_place | arrival_minutes | discharge_minutes | disposition
still        | false      | birth_room  |                 |                   |
moved_at_139 | true       | birth_room  |                 | 139               | transfer
moved_at_140 | true       | birth_room  |                 | 140               | transfer
moved_back   | true       | birth_room  |                 | 100               | transfer
died_at_90   | true       | birth_room  |                 | 90                | died
comfort      | true       | birth_room  |                 |                   |
cooled       | true       | birth_room  |                 |                   |
brought      | true       | other_site  | 300             |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
cooled    | cooling      | 139     | done
"""
given.observation = """
record_id    | kind        | minutes | value | site
still        | temperature | 20      | 35.0  | axillary
moved_at_139 | temperature | 20      | 36.0  | axillary
moved_at_140 | temperature | 20      | 36.0  | axillary
moved_back   | temperature | 20      | 36.0  | axillary
moved_back   | temperature | 80      | 36.6  | axillary
died_at_90   | temperature | 20      | 36.0  | axillary
comfort      | temperature | 20      | 36.0  | axillary
cooled       | temperature | 20      | 36.0  | axillary
brought      | temperature | 200     | 35.0  | axillary
brought      | temperature | 310     | 36.0  | axillary
brought      | temperature | 325     | 36.6  | axillary
"""
expect = """
record_id    | item | state          | minutes
still        | 1    | exclusion      |
moved_at_139 | 1    | exception      |
moved_at_140 | 1    | not_documented |
moved_back   | 1    | met            | 60
died_at_90   | 1    | exclusion      |
comfort      | 1    | exclusion      |
cooled       | 1    | exclusion      |
brought      | 1    | met            | 15
"""

[[examples]]
because = "a unit that ends the range at 37.4 sets the upper edge"
policy = { upper_edge_c = 37.4 }
given.admission = """
record_id
at3740
at3750
"""
given.observation = """
record_id | kind        | minutes | value | site
at3740    | temperature | 20      | 36.0  | axillary
at3740    | temperature | 50      | 37.4  | axillary
at3750    | temperature | 20      | 36.0  | axillary
at3750    | temperature | 50      | 37.5  | axillary
"""
expect = """
record_id | item | state
at3740    | 1    | met
at3750    | 1    | not_met
"""

[[examples]]
because = "gone home, or moved by a care item, before it was due: an exception, unless it was done before"
given.admission = """
record_id | discharge_minutes | disposition
home      | 139               | home
home_due  | 140               | home
home_read | 139               | home
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
with cold_episode as (
    select
        newborn_id as newborn_id,
        row_number() over (partition by newborn_id order by item) as item,
        began_minutes as began_minutes,
        began_c as began_c,
        grade as grade,
        next_minutes as next_minutes,
        closes_minutes as closes_minutes,
        is_documented as is_documented,
    from cold_reading
    where begins_episode
),

back as (
    select
        cold_episode.newborn_id as newborn_id,
        cold_episode.item as item,
        min(reading.minutes) as range_minutes,
    from cold_episode
    inner join setting on setting.newborn_id = cold_episode.newborn_id
    inner join lowest_temperature as reading
        on
            reading.newborn_id = cold_episode.newborn_id
            and reading.minutes > cold_episode.began_minutes
    where reading.value_c between setting.lower_edge_c and setting.upper_edge_c
    group by cold_episode.newborn_id, cold_episode.item
)

select
    cold_episode.newborn_id as newborn_id,
    cold_episode.item as item,
    cold_episode.is_documented as is_documented,
    cold_episode.next_minutes is not null as is_usable,
    back.range_minutes - cold_episode.began_minutes as minutes,
    cold_episode.closes_minutes as closes_minutes,
    back.range_minutes as judged_minutes,
    cold_episode.began_c as value,
    cold_episode.began_minutes as value_minutes,
    setting.lower_edge_c as edge,
    cold_episode.grade as grade,
from cold_episode
inner join setting on setting.newborn_id = cold_episode.newborn_id
left join back
    on
        back.newborn_id = cold_episode.newborn_id
        and back.item = cold_episode.item
