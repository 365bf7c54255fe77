/*
title = "Warm start in the first ten minutes"
question = "Was the newborn dried or wrapped, covered and put somewhere warm at once?"
group = "warmth"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit."
numerator = "All three recorded as done inside the window: dried, or put into a bag or wrap; head covered; skin contact or a radiant warmer."
anchor = "birth"
window = { at_least = 0, at_most = 10 }
window_status = "local"
owner = "born_here"
exceptions = "None. A bag or wrap instead of drying counts."
missing = "not_met"
sources = [
    "10 minutes: local decision, no published value",
    "WHO, Thermal protection of the newborn, 1997: drying, covering, warm surface, skin contact",
    "Cochrane review of heat loss at birth, CD004210, update of 2010: bags and wraps help below 28 weeks, not shown from 28 to 31",
    "Teaching of resuscitation that uses a bag or wrap below 32 weeks: from memory; no threshold is applied here",
]
disagreement = "Which actions belong to the list differs with gestation: caps of stockinet were not shown to help, bags and wraps were below 28 weeks. At 28 weeks or more a bag is a local choice."
documentation_trap = "Tick lists default to yes: a month of 100 % deserves a walk to the bedside. Most units chart that a newborn was dried but not when; without a time an action is unusable. The later of the three decides the minute."
caution = "This screens records. A tick is not warmth: read it beside the first temperature. Local policy decides who needs a bag."
balancing = ["warm_excess", "skin_contact_start"]
look_at = ["drying, head cover, plastic bag, warmer, skin contact: time, status"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "It shows how the first minutes run; whether the newborn was warm is told by its temperature."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 10 still counts, minute 11 is late; the last of the three decides; bag and warmer stand in for drying and skin contact"
given.admission = """
record_id
at10
at11
bagged
both_ways
"""
given.care = """
record_id | kind         | minutes | status
at10      | drying       | 1       | done
at10      | head_cover   | 2       |
at10      | skin_contact | 10      | done
at11      | drying       | 1       | done
at11      | head_cover   | 11      | done
at11      | skin_contact | 3       | done
bagged    | plastic_bag  | 1       | done
bagged    | head_cover   | 2       | done
bagged    | warmer       | 3       | done
both_ways | drying       | 1       | done
both_ways | head_cover   | 2       | done
both_ways | warmer       | 4       | done
both_ways | skin_contact | 60      | done
"""
expect = """
record_id | state | minutes
at10      | met   | 10
at11      | late  | 11
bagged    | met   | 3
both_ways | met   | 4
"""

[[examples]]
because = "one of three missing is not documented; recorded as not done is not done, unless the other way was done"
given.admission = """
record_id
no_row
no_cover
not_dried
no_reason
warmed
"""
given.care = """
record_id | kind         | minutes | status   | reason
no_cover  | drying       | 1       | done     |
no_cover  | skin_contact | 3       | done     |
not_dried | drying       | 1       | not_done | newborn_unstable
not_dried | head_cover   | 2       | done     |
not_dried | warmer       | 2       | done     |
no_reason | drying       | 1       | done     |
no_reason | head_cover   |         | not_done |
no_reason | warmer       | 2       | done     |
warmed    | drying       | 1       | done     |
warmed    | head_cover   | 2       | done     |
warmed    | skin_contact |         | not_done | mother_unwell
warmed    | warmer       | 2       | done     |
"""
expect = """
record_id | state          | reason
no_row    | not_documented |
no_cover  | not_documented |
not_dried | not_done       | newborn_unstable
no_reason | not_done       | no reason recorded
warmed    | met            |
"""

[[examples]]
because = "a tick without a believable time is unusable; a usable one beside it is taken"
given.admission = """
record_id
no_time
masked
mixed
"""
given.care = """
record_id | kind       | minutes | status | unusable
no_time   | drying     |         | done   |
no_time   | head_cover | 2       | done   |
no_time   | warmer     | 2       | done   |
masked    | drying     | 1       |        | status
masked    | head_cover | 2       | done   |
masked    | warmer     | 2       | done   |
mixed     | drying     |         | done   | minutes
mixed     | drying     | 1       | done   |
mixed     | head_cover | 2       | done   |
mixed     | warmer     | 2       | done   |
"""
expect = """
record_id | state    | minutes
no_time   | unusable |
masked    | unusable |
mixed     | met      | 2
"""

[[examples]]
because = "standard exclusions; the window of a newborn moved at 40 minutes had closed"
given.admission = """
record_id   | live_birth | birth_place    | discharge_minutes | disposition
still       | false      | birth_room     |                   |
died_at_9   | true       | birth_room     | 9                 | died
moved_at_9  | true       | birth_room     | 9                 | transfer
moved_at_40 | true       | birth_room     | 40                | transfer
elsewhere   | true       | other_site     |                   |
on_the_way  | true       | before_arrival |                   |
comfort     | true       | birth_room     |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id   | state
still       | exclusion
died_at_9   | exclusion
moved_at_9  | exception
moved_at_40 | not_documented
elsewhere   | exclusion
on_the_way  | exclusion
comfort     | exclusion
"""
*/
with steps as (
    select
        newborn_id as newborn_id,
        case
            when kind in ('drying', 'plastic_bag') then 'dry'
            when kind = 'head_cover' then 'cover'
            else 'warm'
        end as step,
        min(if(minutes < 0, 0, minutes)) filter (where status = 'done') as done_minutes,
        coalesce(bool_or(status is null or status = 'done'), false) as is_open,
        min(coalesce(reason, 'no reason recorded')) filter (
            where status = 'not_done'
        ) as not_done_reason,
    from mart.event
    where kind in ('drying', 'plastic_bag', 'head_cover', 'warmer', 'skin_contact')
    group by newborn_id, step
),

together as (
    select
        newborn_id as newborn_id,
        count(*) = 3 as has_all,
        count(done_minutes) = 3 as is_timed,
        max(done_minutes) as last_minutes,
        min(not_done_reason) filter (where not is_open) as not_done_reason,
    from steps
    group by newborn_id
)

select
    newborn.newborn_id as newborn_id,
    together.not_done_reason as not_done_reason,
    coalesce(together.has_all, false) as is_documented,
    coalesce(together.is_timed, false) as is_usable,
    if(together.is_timed, together.last_minutes, null) as minutes,
from mart.newborn as newborn
left join together on together.newborn_id = newborn.newborn_id
