/*
title = "Longest gap between observations"
question = "In the first 4 hours, how long was the longest time without a full set of observations?"
group = "first observations"
kind = "minutes"
direction = "lower"
population = "Newborns born alive in the unit who stayed at least 2 hours and have at least one complete set."
numerator = "The longest time, from birth, between complete sets of temperature, heart rate and respirations (the three within 10 minutes of each other) in the first 4 hours, or until the newborn went home or was moved away; the time after the last set counts too."
anchor = "birth; a set counts at the minute of its last sign"
parameters = { set_within_minutes = 10, gaps_until_minutes = 240, stay_minutes = 120, skin_counts = false }
follows = { set_within_minutes = "half_hourly_observation", stay_minutes = "half_hourly_observation", skin_counts = "first_temperature" }
owner = "born_here"
exclude = ["cooling"]
exceptions = "Moved away, and nobody wrote when: how long nobody looked after the last set cannot be said."
missing = "left_out"
sources = ["Median and 90th centile over 4 hours: local decision, no published value"]
disagreement = "Some would stop at the minute the newborn settled; a fixed 4 hours can be compared between months."
documentation_trap = "A newborn without any complete set has no gap to measure: read the count of those beside the median. Values carried forward by a flowsheet shorten gaps that were real."
caution = "This screens records. A long gap in a settled newborn asleep on its mother is not harm in itself."
balancing = ["skin_contact_sustained", "first_feed"]
look_at = ["temperature, heart rate, respiratory rate: times of each set"]
version = "1.2"

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

[[history]]
version = "1.2"
on = 2026-11-30
what = "moved away, nobody wrote when: no gap is made up to the end of the 4 hours"

[[examples]]
because = "gaps run from birth, between sets and on to 4 hours; a set at minute 240 counts, at 241 it does not"
given.admission = """
record_id
begins
between
tail
at240
at241
"""
given.observation = """
record_id | kind             | minutes | value | site
begins    | temperature      | 100     | 36.8  | axillary
begins    | heart_rate       | 100     | 140   |
begins    | respiratory_rate | 100     | 45    |
begins    | temperature      | 190     | 36.8  | axillary
begins    | heart_rate       | 190     | 140   |
begins    | respiratory_rate | 190     | 45    |
between   | temperature      | 30      | 36.8  | axillary
between   | heart_rate       | 30      | 140   |
between   | respiratory_rate | 30      | 45    |
between   | temperature      | 170     | 36.8  | axillary
between   | heart_rate       | 175     | 140   |
between   | respiratory_rate | 180     | 45    |
tail      | temperature      | 30      | 36.8  | axillary
tail      | heart_rate       | 30      | 140   |
tail      | respiratory_rate | 30      | 45    |
at240     | temperature      | 120     | 36.8  | axillary
at240     | heart_rate       | 120     | 140   |
at240     | respiratory_rate | 120     | 45    |
at240     | temperature      | 240     | 36.8  | axillary
at240     | heart_rate       | 240     | 140   |
at240     | respiratory_rate | 240     | 45    |
at241     | temperature      | 110     | 36.8  | axillary
at241     | heart_rate       | 110     | 140   |
at241     | respiratory_rate | 110     | 45    |
at241     | temperature      | 241     | 36.8  | axillary
at241     | heart_rate       | 241     | 140   |
at241     | respiratory_rate | 241     | 45    |
"""
expect = """
record_id | state | minutes
begins    | met   | 100
between   | met   | 150
tail      | met   | 210
at240     | met   | 120
at241     | met   | 130
"""

[[examples]]
because = "a missing sign is not documented, a masked one unusable, signs 11 minutes apart make no set"
given.admission = """
record_id
no_row
no_count
masked
apart11
"""
given.observation = """
record_id | kind             | minutes | value | site     | unusable
no_count  | temperature      | 20      | 36.8  | axillary |
no_count  | heart_rate       | 25      | 140   |          |
masked    | temperature      | 20      |       | axillary | value
masked    | heart_rate       | 25      | 140   |          |
masked    | respiratory_rate | 30      | 45    |          |
apart11   | temperature      | 20      | 36.8  | axillary |
apart11   | heart_rate       | 25      | 140   |          |
apart11   | respiratory_rate | 31      | 45    |          |
"""
expect = """
record_id | state
no_row    | not_documented
no_count  | not_documented
masked    | unusable
apart11   | not_met
"""

[[examples]]
because = "a stay below 2 hours, another level of care and the standard exclusions set apart; going home ends the watch"
given.admission = """
record_id   | live_birth | birth_place | discharge_minutes | disposition
still       | false      | birth_room  |                   |
home_at_119 | true       | birth_room  | 119               | home
home_at_130 | true       | birth_room  | 130               | home
moved_at_40 | true       | birth_room  | 40                | transfer
died_at_200 | true       | birth_room  | 200               | died
elsewhere   | true       | other_site  |                   |
comfort     | true       | birth_room  |                   |
cooled      | true       | birth_room  |                   |
other_care  | true       | birth_room  |                   |
"""
given.care = """
record_id  | kind         | minutes | status
comfort    | comfort_care | 5       | done
cooled     | cooling      | 60      | done
other_care | transfer     | 60      | done
"""
given.observation = """
record_id   | kind             | minutes | value | site
home_at_130 | temperature      | 60      | 36.8  | axillary
home_at_130 | heart_rate       | 60      | 140   |
home_at_130 | respiratory_rate | 60      | 45    |
"""
expect = """
record_id   | state     | minutes | reason
still       | exclusion |         | stillborn
home_at_119 | exclusion |         | stayed less than 2 hours
home_at_130 | met       | 70      |
moved_at_40 | exclusion |         | stayed less than 2 hours
died_at_200 | exclusion |         | died before the window closed
elsewhere   | exclusion |         | born elsewhere
comfort     | exclusion |         | comfort care before the window closed
cooled      | exclusion |         | cooled before the window closed
other_care  | exclusion |         | stayed less than 2 hours
"""

[[examples]]
because = "the watch ends with a move: what came before is measured; when the last gap ended nobody knows where the move has no time"
given.admission = """
record_id | discharge_minutes | disposition
moved     | 200               | transfer
moved_gap | 200               | transfer
untimed   |                   | transfer
"""
given.observation = """
record_id | kind             | minutes | value | site
moved     | temperature      | 30      | 36.2  | axillary
moved     | heart_rate       | 30      | 140   |
moved     | respiratory_rate | 30      | 45    |
moved     | temperature      | 60      | 36.2  | axillary
moved     | heart_rate       | 60      | 140   |
moved     | respiratory_rate | 60      | 45    |
moved     | temperature      | 90      | 36.2  | axillary
moved     | heart_rate       | 90      | 140   |
moved     | respiratory_rate | 90      | 45    |
moved     | temperature      | 120     | 36.2  | axillary
moved     | heart_rate       | 120     | 140   |
moved     | respiratory_rate | 120     | 45    |
moved     | temperature      | 150     | 36.2  | axillary
moved     | heart_rate       | 150     | 140   |
moved     | respiratory_rate | 150     | 45    |
moved     | temperature      | 180     | 36.2  | axillary
moved     | heart_rate       | 180     | 140   |
moved     | respiratory_rate | 180     | 45    |
moved_gap | temperature      | 30      | 36.2  | axillary
moved_gap | heart_rate       | 30      | 140   |
moved_gap | respiratory_rate | 30      | 45    |
moved_gap | temperature      | 60      | 36.2  | axillary
moved_gap | heart_rate       | 60      | 140   |
moved_gap | respiratory_rate | 60      | 45    |
moved_gap | temperature      | 120     | 36.2  | axillary
moved_gap | heart_rate       | 120     | 140   |
moved_gap | respiratory_rate | 120     | 45    |
moved_gap | temperature      | 150     | 36.2  | axillary
moved_gap | heart_rate       | 150     | 140   |
moved_gap | respiratory_rate | 150     | 45    |
moved_gap | temperature      | 180     | 36.2  | axillary
moved_gap | heart_rate       | 180     | 140   |
moved_gap | respiratory_rate | 180     | 45    |
untimed   | temperature      | 30      | 36.2  | axillary
untimed   | heart_rate       | 30      | 140   |
untimed   | respiratory_rate | 30      | 45    |
untimed   | temperature      | 60      | 36.2  | axillary
untimed   | heart_rate       | 60      | 140   |
untimed   | respiratory_rate | 60      | 45    |
untimed   | temperature      | 90      | 36.2  | axillary
untimed   | heart_rate       | 90      | 140   |
untimed   | respiratory_rate | 90      | 45    |
untimed   | temperature      | 120     | 36.2  | axillary
untimed   | heart_rate       | 120     | 140   |
untimed   | respiratory_rate | 120     | 45    |
untimed   | temperature      | 150     | 36.2  | axillary
untimed   | heart_rate       | 150     | 140   |
untimed   | respiratory_rate | 150     | 45    |
untimed   | temperature      | 180     | 36.2  | axillary
untimed   | heart_rate       | 180     | 140   |
untimed   | respiratory_rate | 180     | 45    |
"""
expect = """
record_id | state     | minutes
moved     | met       | 30
moved_gap | met       | 60
untimed   | exception |
"""
*/
with rows_of_signs as (
    select
        event.newborn_id as newborn_id,
        event.kind as kind,
        event.minutes as minutes,
        event.is_usable as is_usable,
    from vital_sign as event
    inner join setting on setting.newborn_id = event.newborn_id
    where event.minutes is null or event.minutes <= setting.gaps_until_minutes
),

known as (
    select
        newborn_id as newborn_id,
        bool_or(kind = 'temperature')
        and bool_or(kind = 'heart_rate')
        and bool_or(kind = 'respiratory_rate') as has_all,
        bool_or(is_usable and kind = 'temperature')
        and bool_or(is_usable and kind = 'heart_rate')
        and bool_or(is_usable and kind = 'respiratory_rate') as is_usable,
    from rows_of_signs
    group by newborn_id
),

by_minute as (
    select
        newborn_id as newborn_id,
        minutes as minutes,
        if(bool_or(kind = 'temperature'), minutes, null) as temperature_minutes,
        if(bool_or(kind = 'heart_rate'), minutes, null) as heart_rate_minutes,
        if(bool_or(kind = 'respiratory_rate'), minutes, null) as respirations_minutes,
    from rows_of_signs
    where is_usable
    group by newborn_id, minutes
),

running as (
    select
        newborn_id as newborn_id,
        minutes as minutes,
        max(temperature_minutes) over so_far as temperature_minutes,
        max(heart_rate_minutes) over so_far as heart_rate_minutes,
        max(respirations_minutes) over so_far as respirations_minutes,
    from by_minute
    window so_far as (partition by newborn_id order by minutes)
),

watched as (
    select
        here.newborn_id as newborn_id,
        here.away_minutes as away_minutes,
        here.is_moved_untimed as is_moved_untimed,
        least(
            coalesce(here.away_minutes, setting.gaps_until_minutes), setting.gaps_until_minutes
        ) as ends_minutes,
    from watched_here as here
    inner join setting on setting.newborn_id = here.newborn_id
),

complete as (
    select
        running.newborn_id as newborn_id,
        running.minutes as minutes,
        watched.ends_minutes as ends_minutes,
        running.minutes - lag(running.minutes, 1, 0) over (
            partition by running.newborn_id order by running.minutes
        ) as gap_minutes,
    from running
    inner join watched on watched.newborn_id = running.newborn_id
    inner join setting on setting.newborn_id = running.newborn_id
    where
        running.temperature_minutes is not null
        and running.heart_rate_minutes is not null
        and running.respirations_minutes is not null
        and running.minutes <= watched.ends_minutes
        and running.minutes
        - least(
            running.temperature_minutes, running.heart_rate_minutes, running.respirations_minutes
        )
        <= setting.set_within_minutes
),

gaps as (
    select
        newborn_id as newborn_id,
        greatest(max(gap_minutes), any_value(ends_minutes) - max(minutes)) as longest_minutes,
    from complete
    group by newborn_id
)

select
    watched.newborn_id as newborn_id,
    if(
        watched.away_minutes < setting.stay_minutes, 'stayed less than 2 hours', null
    ) as exclusion,
    coalesce(known.has_all, false) as is_documented,
    coalesce(known.is_usable, false) as is_usable,
    if(watched.is_moved_untimed, null, gaps.longest_minutes) as minutes,
    watched.ends_minutes as closes_minutes,
    if(watched.is_moved_untimed, null, watched.ends_minutes) as judged_minutes,
from watched
inner join setting on setting.newborn_id = watched.newborn_id
left join known on known.newborn_id = watched.newborn_id
left join gaps on gaps.newborn_id = watched.newborn_id
