/*
title = "Observed every half hour until settled"
question = "Was the newborn fully observed at least every half hour until it had settled?"
also_called = ["vital signs", "transition"]
group = "first observations"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit who stayed at least 2 hours."
numerator = "Complete sets of temperature, heart rate and respirations, the three within 10 minutes of each other, with no gap longer than 30 minutes and a grace of 5 from birth until the newborn had settled: 2 hours of sets in range. Where it did not settle, until 6 hours, or until it went home or was moved away. Where a unit watches for a fixed time, until that has passed, settled or not."
anchor = "birth; a set counts at the minute of its last sign"
window_status = "local"
parameters = { until_settled = true, gap_minutes = 30, grace_minutes = 5, set_within_minutes = 10, settle_minutes = 120, watch_until_minutes = 360, stay_minutes = 120, lower_edge_c = 36.5, upper_edge_c = 37.5, heart_rate_least = 100, heart_rate_most = 160, respirations_least = 30, respirations_most = 60, skin_counts = false }
follows = { lower_edge_c = "arrival_temperature", upper_edge_c = "arrival_temperature", skin_counts = "first_temperature" }
owner = "born_here"
exclude = ["cooling"]
exceptions = "None."
missing = "not_met"
sources = [
    "Every 30 minutes until stable for 2 hours: AccessPediatrics, as taught there after AAP and ACOG guidelines",
    "Grace of 5 minutes, 10 minutes within a set, end at 6 hours: local decision, no published value",
    "100 to 160 beats, so that a newborn asleep can settle: AccessPediatrics, as taught there; 110 awake and 100 asleep: Duquesne University, newborn assessment",
    "30 to 60 breaths: Duquesne University, newborn assessment",
]
disagreement = "A unit sets its own interval (gap_minutes) and end (until_settled, watch_until_minutes). A unit that asks for 110 beats at rest sets heart_rate_least, and newborns asleep then settle late. Some teaching is hourly for 4 hours, some every 15 minutes during early skin contact; some add colour, tone and perfusion. Whether 60 breaths a minute are still in range differs: here they are. A school that ends the range of temperature at 37.4 °C sets upper_edge_c."
documentation_trap = "A flowsheet that carries values forward makes sets that nobody took. A sign whose time or value is unusable makes no set, so that a gap may be a gap of the record. Respirations counted but not charted break every set. Signs charted more than 10 minutes apart are no set."
caution = "This screens records. More observation is not always better: it disturbs skin contact, feeding and sleep. The ranges are for reading groups, never for judging one newborn."
balancing = ["skin_contact_sustained", "first_feed", "longest_observation_gap"]
look_at = ["temperature, heart rate, respiratory rate: times of each set"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "How closely newborns are watched is a matter of how the work is arranged."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "100 beats are in range, so that a newborn asleep can settle; a unit may watch for a fixed time; a probe on the skin is no temperature of the body by default; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "gaps of 35 minutes are within the grace, 36 are not; settled after 2 hours in range, later gaps do not count"
given.admission = """
record_id
every35
gap36
first36
"""
given.observation = """
record_id | kind             | minutes | value | site
every35   | temperature      | 35      | 36.8  | axillary
every35   | heart_rate       | 35      | 140   |
every35   | respiratory_rate | 35      | 45    |
every35   | temperature      | 70      | 36.8  | axillary
every35   | heart_rate       | 70      | 140   |
every35   | respiratory_rate | 70      | 45    |
every35   | temperature      | 105     | 36.8  | axillary
every35   | heart_rate       | 105     | 140   |
every35   | respiratory_rate | 105     | 45    |
every35   | temperature      | 135     | 36.8  | axillary
every35   | heart_rate       | 135     | 140   |
every35   | respiratory_rate | 135     | 45    |
every35   | temperature      | 155     | 36.8  | axillary
every35   | heart_rate       | 155     | 140   |
every35   | respiratory_rate | 155     | 45    |
every35   | temperature      | 350     | 36.8  | axillary
gap36     | temperature      | 30      | 36.8  | axillary
gap36     | heart_rate       | 30      | 140   |
gap36     | respiratory_rate | 30      | 45    |
gap36     | temperature      | 66      | 36.8  | axillary
gap36     | heart_rate       | 66      | 140   |
gap36     | respiratory_rate | 66      | 45    |
gap36     | temperature      | 100     | 36.8  | axillary
gap36     | heart_rate       | 100     | 140   |
gap36     | respiratory_rate | 100     | 45    |
gap36     | temperature      | 130     | 36.8  | axillary
gap36     | heart_rate       | 130     | 140   |
gap36     | respiratory_rate | 130     | 45    |
gap36     | temperature      | 155     | 36.8  | axillary
gap36     | heart_rate       | 155     | 140   |
gap36     | respiratory_rate | 155     | 45    |
first36   | temperature      | 36      | 36.8  | axillary
first36   | heart_rate       | 36      | 140   |
first36   | respiratory_rate | 36      | 45    |
"""
expect = """
record_id | state
every35   | met
gap36     | not_met
first36   | not_met
"""

[[examples]]
because = "one set out of range starts the two hours anew; 60 breaths and 37.5 °C are in range, 161 beats are not"
policy = { watch_until_minutes = 150, settle_minutes = 60, gap_minutes = 60, grace_minutes = 0 }
given.admission = """
record_id
fast
edges
"""
given.observation = """
record_id | kind             | minutes | value | site
fast      | temperature      | 30      | 36.8  | axillary
fast      | heart_rate       | 30      | 140   |
fast      | respiratory_rate | 30      | 45    |
fast      | temperature      | 60      | 36.8  | axillary
fast      | heart_rate       | 60      | 161   |
fast      | respiratory_rate | 60      | 45    |
fast      | temperature      | 89      | 36.8  | axillary
fast      | heart_rate       | 89      | 140   |
fast      | respiratory_rate | 89      | 45    |
edges     | temperature      | 30      | 37.5  | axillary
edges     | heart_rate       | 30      | 160   |
edges     | respiratory_rate | 30      | 60    |
edges     | temperature      | 60      | 36.5  | axillary
edges     | heart_rate       | 60      | 110   |
edges     | respiratory_rate | 60      | 30    |
edges     | temperature      | 90      | 36.8  | axillary
edges     | heart_rate       | 90      | 140   |
edges     | respiratory_rate | 90      | 45    |
"""
expect = """
record_id | state
fast      | not_met
edges     | met
"""

[[examples]]
because = "asleep at 100 beats a newborn settles, at 99 it does not; where it settled no later set is asked for"
policy = { settle_minutes = 30, watch_until_minutes = 300 }
given.admission = """
record_id
at100
at99
"""
given.observation = """
record_id | kind             | minutes | value | site
at100     | temperature      | 30      | 36.8  | axillary
at100     | heart_rate       | 30      | 100   |
at100     | respiratory_rate | 30      | 45    |
at100     | temperature      | 60      | 36.8  | axillary
at100     | heart_rate       | 60      | 100   |
at100     | respiratory_rate | 60      | 45    |
at99      | temperature      | 30      | 36.8  | axillary
at99      | heart_rate       | 30      | 99    |
at99      | respiratory_rate | 30      | 45    |
at99      | temperature      | 60      | 36.8  | axillary
at99      | heart_rate       | 60      | 99    |
at99      | respiratory_rate | 60      | 45    |
"""
expect = """
record_id | state
at100     | met
at99      | not_met
"""

[[examples]]
because = "a unit with an interval of 60 minutes and a fixed end of 2 hours: settling does not end the watch"
policy = { until_settled = false, gap_minutes = 60, grace_minutes = 0, watch_until_minutes = 120, settle_minutes = 30 }
given.admission = """
record_id
to_the_end
stopped
"""
given.observation = """
record_id  | kind             | minutes | value | site
to_the_end | temperature      | 30      | 36.8  | axillary
to_the_end | heart_rate       | 30      | 140   |
to_the_end | respiratory_rate | 30      | 45    |
to_the_end | temperature      | 60      | 36.8  | axillary
to_the_end | heart_rate       | 60      | 140   |
to_the_end | respiratory_rate | 60      | 45    |
stopped    | temperature      | 20      | 36.8  | axillary
stopped    | heart_rate       | 20      | 140   |
stopped    | respiratory_rate | 20      | 45    |
stopped    | temperature      | 59      | 36.8  | axillary
stopped    | heart_rate       | 59      | 140   |
stopped    | respiratory_rate | 59      | 45    |
"""
expect = """
record_id  | state
to_the_end | met
stopped    | not_met
"""

[[examples]]
because = "three signs 10 minutes apart are a set, 11 minutes apart are none; a missing sign makes no set; a masked one is unusable"
policy = { watch_until_minutes = 60, gap_minutes = 60, grace_minutes = 0, stay_minutes = 0 }
given.admission = """
record_id
apart10
apart11
no_count
masked
no_row
"""
given.observation = """
record_id | kind             | minutes | value | site     | unusable
apart10   | temperature      | 20      | 36.8  | axillary |
apart10   | heart_rate       | 25      | 140   |          |
apart10   | respiratory_rate | 30      | 45    |          |
apart11   | temperature      | 20      | 36.8  | axillary |
apart11   | heart_rate       | 25      | 140   |          |
apart11   | respiratory_rate | 31      | 45    |          |
no_count  | temperature      | 20      | 36.8  | axillary |
no_count  | heart_rate       | 25      | 140   |          |
masked    | temperature      | 20      |       | axillary | value
masked    | heart_rate       | 25      | 140   |          |
masked    | respiratory_rate | 30      | 45    |          |
"""
expect = """
record_id | state
apart10   | met
apart11   | not_met
no_count  | not_documented
masked    | unusable
no_row    | not_documented
"""

[[examples]]
because = "a stay below 2 hours, another level of care and the standard exclusions set apart; going home ends the watch"
given.admission = """
record_id   | live_birth | birth_place | discharge_minutes | disposition
still       | false      | birth_room  |                   |
home_at_119 | true       | birth_room  | 119               | home
home_at_120 | true       | birth_room  | 120               | home
home_seen   | true       | birth_room  | 130               | home
moved_at_40 | true       | birth_room  | 40                | transfer
died_at_300 | true       | birth_room  | 300               | died
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
record_id | kind             | minutes | value | site
home_seen | temperature      | 30      | 36.8  | axillary
home_seen | heart_rate       | 30      | 140   |
home_seen | respiratory_rate | 30      | 45    |
home_seen | temperature      | 65      | 36.8  | axillary
home_seen | heart_rate       | 65      | 140   |
home_seen | respiratory_rate | 65      | 45    |
home_seen | temperature      | 100     | 36.8  | axillary
home_seen | heart_rate       | 100     | 140   |
home_seen | respiratory_rate | 100     | 45    |
"""
expect = """
record_id   | state          | reason
still       | exclusion      | stillborn
home_at_119 | exclusion      | stayed less than 2 hours
home_at_120 | not_documented |
home_seen   | met            |
moved_at_40 | exclusion      | stayed less than 2 hours
died_at_300 | exclusion      | died before the window closed
elsewhere   | exclusion      | born elsewhere
comfort     | exclusion      | comfort care before the window closed
cooled      | exclusion      | cooled before the window closed
other_care  | exclusion      | stayed less than 2 hours
"""

[[examples]]
because = "the watch ends with a move: kept until then it is met, broken before it is not; at a time not known an exception"
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
record_id | state     | reason
moved     | met       |
moved_gap | not_met   |
untimed   | exception | moved before the window closed
"""
*/
with rows_of_signs as (
    select
        event.newborn_id as newborn_id,
        event.kind as kind,
        event.minutes as minutes,
        event.is_usable as is_usable,
        case event.kind
            when 'temperature'
                then event.value between setting.lower_edge_c and setting.upper_edge_c
            when 'heart_rate'
                then event.value between setting.heart_rate_least and setting.heart_rate_most
            else event.value between setting.respirations_least and setting.respirations_most
        end as is_in_range,
    from vital_sign as event
    inner join setting on setting.newborn_id = event.newborn_id
    where event.minutes is null or event.minutes <= setting.watch_until_minutes
),

by_minute as (
    select
        newborn_id as newborn_id,
        minutes as minutes,
        bool_and(is_in_range) filter (where kind = 'temperature') as temperature_ok,
        bool_and(is_in_range) filter (where kind = 'heart_rate') as heart_rate_ok,
        bool_and(is_in_range) filter (where kind = 'respiratory_rate') as respirations_ok,
    from rows_of_signs
    where is_usable
    group by newborn_id, minutes
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

running as (
    select
        newborn_id as newborn_id,
        minutes as minutes,
        max(if(temperature_ok is null, null, minutes)) over so_far as temperature_minutes,
        max(if(heart_rate_ok is null, null, minutes)) over so_far as heart_rate_minutes,
        max(if(respirations_ok is null, null, minutes)) over so_far as respirations_minutes,
        last_value(temperature_ok ignore nulls) over so_far
        and last_value(heart_rate_ok ignore nulls) over so_far
        and last_value(respirations_ok ignore nulls) over so_far as is_in_range,
    from by_minute
    window so_far as (partition by newborn_id order by minutes)
),

complete as (
    select
        running.newborn_id as newborn_id,
        running.minutes as minutes,
        running.is_in_range as is_in_range,
        lag(running.minutes, 1, 0) over so_far as previous_minutes,
        max(if(running.is_in_range, null, running.minutes)) over so_far as last_odd_minutes,
    from running
    inner join setting on setting.newborn_id = running.newborn_id
    where
        running.temperature_minutes is not null
        and running.heart_rate_minutes is not null
        and running.respirations_minutes is not null
        and running.minutes
        - least(
            running.temperature_minutes, running.heart_rate_minutes, running.respirations_minutes
        )
        <= setting.set_within_minutes
    window so_far as (partition by running.newborn_id order by running.minutes)
),

runs as (
    select
        newborn_id as newborn_id,
        minutes as minutes,
        previous_minutes as previous_minutes,
        if(
            is_in_range,
            minutes - min(if(is_in_range, minutes, null)) over (
                partition by newborn_id, last_odd_minutes
            ),
            null
        ) as minutes_in_range,
    from complete
),

settled as (
    select
        runs.newborn_id as newborn_id,
        min(runs.minutes) filter (
            where runs.minutes_in_range >= setting.settle_minutes
        ) as settled_minutes,
    from runs
    inner join setting on setting.newborn_id = runs.newborn_id
    group by runs.newborn_id
),

watched as (
    select
        here.newborn_id as newborn_id,
        here.away_minutes as away_minutes,
        here.is_moved_untimed as is_moved_untimed,
        least(
            if(
                setting.until_settled,
                coalesce(settled.settled_minutes, setting.watch_until_minutes),
                setting.watch_until_minutes
            ),
            coalesce(here.away_minutes, setting.watch_until_minutes)
        ) as ends_minutes,
    from watched_here as here
    inner join setting on setting.newborn_id = here.newborn_id
    left join settled on settled.newborn_id = here.newborn_id
),

gaps as (
    select
        watched.newborn_id as newborn_id,
        max(least(runs.minutes, watched.ends_minutes) - runs.previous_minutes) filter (
            where runs.previous_minutes < watched.ends_minutes
        ) as longest_minutes,
        max(runs.minutes) as last_minutes,
    from watched
    inner join runs on runs.newborn_id = watched.newborn_id
    group by watched.newborn_id
)

select
    watched.newborn_id as newborn_id,
    if(
        watched.away_minutes < setting.stay_minutes, 'stayed less than 2 hours', null
    ) as exclusion,
    coalesce(known.has_all, false) as is_documented,
    coalesce(known.is_usable, false) as is_usable,
    greatest(gaps.longest_minutes, watched.ends_minutes - gaps.last_minutes)
    <= setting.gap_minutes + setting.grace_minutes as is_met,
    watched.ends_minutes as closes_minutes,
    if(watched.is_moved_untimed, null, watched.ends_minutes) as judged_minutes,
from watched
inner join setting on setting.newborn_id = watched.newborn_id
left join known on known.newborn_id = watched.newborn_id
left join gaps on gaps.newborn_id = watched.newborn_id
