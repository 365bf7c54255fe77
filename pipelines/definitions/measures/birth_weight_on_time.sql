/*
title = "Birth weight on time"
question = "Was the newborn weighed within the first hours?"
also_called = ["weighing"]
group = "measuring"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit."
numerator = "A believable birth weight, measured inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 120 }
window_status = "local"
owner = "born_here"
exceptions = "Not weighed in time while the newborn was recorded as not stable in that time."
missing = "not_met"
sources = [
    "Within 2 hours: NurseKey, teaching text on the stable newborn, not a guideline",
    "WHO newborn care: weigh after the first hour, with eye care, vitamin K and vaccine, as cited there",
]
disagreement = "A unit that keeps the first hour for skin contact sets at_least to 60 or 90; an earlier weight then counts as not met."
documentation_trap = "Weight, length and head share one time in the record. A weight without a time is unusable here, because nothing shows when it was taken; many come later from the birth certificate. A record shows a newborn as not stable only where some care or medicine was put off for that reason."
caution = "This screens records. Weighing early must not break skin contact or cool the newborn: read it beside the balancing measures."
balancing = ["skin_contact_sustained", "arrival_temperature"]
look_at = ["admission: weight and when it was measured"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "A weight somewhat later delays a dose or a check, and is seldom missed for good."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 120 still counts, minute 121 is late"
given.admission = """
record_id | weight_g | size_minutes
at0       | 3200     | 0
at120     | 3200     | 120
at121     | 3200     | 121
"""
expect = """
record_id | state | minutes
at0       | met   | 0
at120     | met   | 120
at121     | late  | 121
"""

[[examples]]
because = "no weight is not documented; a masked weight, a masked time and no time are unusable"
given.admission = """
record_id  | weight_g | size_minutes | unusable
no_weight  |          |              |
time_only  |          | 60           |
bad_weight |          | 60           | weight_g
bad_time   | 3200     |              | size_minutes
no_time    | 3200     |              |
"""
expect = """
record_id  | state
no_weight  | not_documented
time_only  | not_documented
bad_weight | unusable
bad_time   | unusable
no_time    | unusable
"""

[[examples]]
because = "not stable in the window is an exception unless it was weighed in time; not stable only later is none"
given.admission = """
record_id     | weight_g | size_minutes
unstable      |          |
unstable_late | 3200     | 300
weighed       | 3200     | 60
later         | 3200     | 300
no_time       | 3200     | 300
"""
given.care = """
record_id     | kind         | minutes | status   | reason
unstable      | skin_contact | 10      | not_done | newborn_unstable
unstable_late | first_feed   | 120     | not_done | newborn_unstable
weighed       | skin_contact | 10      | not_done | newborn_unstable
later         | first_feed   | 121     | not_done | newborn_unstable
no_time       | skin_contact |         | not_done | newborn_unstable
"""
expect = """
record_id     | state
unstable      | exception
unstable_late | exception
weighed       | met
later         | late
no_time       | exception
"""

[[examples]]
because = "standard exclusions; the window of a newborn moved at 2 hours had closed"
given.admission = """
record_id    | live_birth | birth_place    | weight_g | size_minutes | discharge_minutes | disposition
still        | false      | birth_room     | 3000     | 60           |                   |
died_at_30   | true       | birth_room     |          |              | 30                | died
moved_at_40  | true       | birth_room     | 3000     | 30           | 40                | transfer
moved_at_120 | true       | birth_room     | 3000     | 30           | 120               | transfer
elsewhere    | true       | other_site     | 3000     | 60           |                   |
on_the_way   | true       | before_arrival | 3000     | 60           |                   |
comfort      | true       | birth_room     | 3000     | 60           |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id    | state
still        | exclusion
died_at_30   | exclusion
moved_at_40  | met
moved_at_120 | met
elsewhere    | exclusion
on_the_way   | exclusion
comfort      | exclusion
"""

[[examples]]
because = "a unit may keep the first hour for skin contact"
policy = { at_least = 60 }
given.admission = """
record_id | weight_g | size_minutes
at59      | 3200     | 59
at60      | 3200     | 60
"""
expect = """
record_id | state
at59      | not_met
at60      | met
"""
*/
with unstable as (
    select distinct
        event.newborn_id as newborn_id,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where
        event.status in ('not_done', 'held')
        and event.reason in ('newborn_unstable', 'unstable')
        and coalesce(event.minutes <= setting.at_most, true)
)

select
    newborn.newborn_id as newborn_id,
    if(unstable.newborn_id is null, null, 'newborn_unstable') as exception,
    newborn.weight_g is not null or coalesce(list_contains(newborn.unusable, 'weight_g'), false)
        as is_documented,
    newborn.weight_g is not null and newborn.size_minutes is not null as is_usable,
    if(newborn.weight_g is null, null, newborn.size_minutes) as minutes,
from mart.newborn as newborn
left join unstable on unstable.newborn_id = newborn.newborn_id
