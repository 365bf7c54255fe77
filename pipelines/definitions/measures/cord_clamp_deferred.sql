/*
title = "Cord clamping deferred"
question = "Was clamping of the cord put off long enough?"
also_called = ["delayed cord clamping"]
group = "contact and feeding"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit."
numerator = "The recorded seconds to clamping are at least those asked for: 60 below 37 weeks, 60 from 37 weeks on."
anchor = "birth"
window_status = "published in part"
parameters = { preterm_seconds = 60, term_seconds = 60, term_from_weeks = 37 }
owner = "born_here"
exceptions = "More than the initial steps of resuscitation at once; blood flow through cord or placenta interrupted; mother not well enough; newborn not stable."
missing = "not_met"
sources = [
    "ACOG Committee Opinion 814, 2020: at least 30 to 60 seconds for vigorous newborns, term and preterm",
    "ACOG, 2025: at least 60 seconds below 37 weeks",
    "AHA and AAP, Pediatrics, 2025: at least 60 seconds for most",
    "WHO, as listed in the BIGG-REC database of recommendations: not earlier than 1 minute, term or preterm, where no ventilation is needed",
    "60 seconds asked of every term newborn, the upper end of what ACOG says, and 37 weeks as the edge: local decision",
]
disagreement = "At term 30, 60 seconds or more are asked for: set term_seconds. Milking of the cord is named as an alternative from 28 to 36 weeks; it is not counted here. A unit whose policy leaves out twins who share a placenta cannot see them in this record."
documentation_trap = "A chart that says only that clamping was deferred has no seconds and is unusable here. Seconds are often rounded to the half minute. Without a gestation the longer of the two times is asked for."
caution = "This screens records. Waiting cools a newborn whom nobody keeps warm, and jaundice is somewhat more frequent after it. Local policy and the team at the birth decide."
balancing = ["arrival_cold", "arrival_temperature", "warm_start_actions"]
look_at = ["cord clamp: time or seconds, status, reason"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "When the cord is clamped is a habit of the room, often with a reason that is not charted."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "60 seconds are enough, 59 are not; a unit's term seconds do not move the preterm"
policy = { term_seconds = 30 }
given.admission = """
record_id | gestational_age_days
term30    | 259
term29    | 259
pre60     | 258
pre59     | 258
unweeked  |
between   |
"""
given.care = """
record_id | kind       | minutes | status | quantity
term30    | cord_clamp | 0       | done   | 30
term29    | cord_clamp | 0       | done   | 29
pre60     | cord_clamp | 1       | done   | 60
pre59     | cord_clamp | 0       | done   | 59
unweeked  | cord_clamp | 1       | done   | 60
between   | cord_clamp | 0       | done   | 45
"""
expect = """
record_id | state
term30    | met
term29    | not_met
pre60     | met
pre59     | not_met
unweeked  | met
between   | not_met
"""

[[examples]]
because = "no row is not documented; no seconds or masked ones are unusable; clamped at once as not done has its reason"
given.admission = """
record_id | gestational_age_days
no_row    | 280
no_number | 280
masked    | 280
not_done  | 280
no_reason | 280
mixed     | 280
"""
given.care = """
record_id | kind       | minutes | status   | quantity | reason       | unusable
no_number | cord_clamp | 1       | done     |          |              |
masked    | cord_clamp | 1       | done     |          |              | quantity
not_done  | cord_clamp | 0       | not_done |          | separation   |
no_reason | cord_clamp | 0       | not_done |          |              |
mixed     | cord_clamp | 1       | done     |          |              | quantity
mixed     | cord_clamp | 1       | done     | 90       |              |
"""
expect = """
record_id | state          | reason
no_row    | not_documented |
no_number | unusable       |
masked    | unusable       |
not_done  | not_done       | separation
no_reason | not_done       | no reason recorded
mixed     | met            |
"""

[[examples]]
because = "a listed reason and resuscitation are exceptions, unless the cord was clamped late enough all the same"
given.admission = """
record_id   | gestational_age_days | resuscitation
interrupted | 280                  | none
mother      | 280                  | none
helped      | 280                  | ventilation
helped_60   | 280                  | ventilation
helped_none | 280                  | compressions
unstable    | 280                  | none
"""
given.care = """
record_id   | kind       | minutes | status   | quantity | reason
interrupted | cord_clamp | 0       | done     | 10       | cord_interrupted
mother      | cord_clamp | 0       | not_done |          | mother_unwell
helped      | cord_clamp | 0       | done     | 15       |
helped_60   | cord_clamp | 1       | done     | 60       |
unstable    | cord_clamp | 0       | done     | 15       | newborn_unstable
"""
expect = """
record_id   | state     | reason
interrupted | exception | cord_interrupted
mother      | exception | mother_unwell
helped      | exception | more than the initial steps at birth
helped_60   | met       |
helped_none | exception | more than the initial steps at birth
unstable    | exception | newborn_unstable
"""

[[examples]]
because = "standard exclusions; a newborn moved at 40 minutes had long been clamped"
given.admission = """
record_id   | live_birth | birth_place    | gestational_age_days | discharge_minutes | disposition
still       | false      | birth_room     | 280                  |                   |
died_at_0   | true       | birth_room     | 280                  | 0                 | died
moved_at_40 | true       | birth_room     | 280                  | 40                | transfer
elsewhere   | true       | other_site     | 280                  |                   |
on_the_way  | true       | before_arrival | 280                  |                   |
comfort     | true       | birth_room     | 280                  |                   |
"""
given.care = """
record_id   | kind         | minutes | status | quantity
moved_at_40 | cord_clamp   | 1       | done   | 60
comfort     | comfort_care | 0       | done   |
"""
expect = """
record_id   | state
still       | exclusion
died_at_0   | exclusion
moved_at_40 | met
elsewhere   | exclusion
on_the_way  | exclusion
comfort     | exclusion
"""
*/
with clamps as (
    select
        newborn_id as newborn_id,
        min(quantity) filter (where status = 'done') as seconds,
        coalesce(bool_or(status = 'done' or status is null), false) as is_open,
        min(reason) filter (
            where reason in ('cord_interrupted', 'mother_unwell', 'newborn_unstable')
        ) as excepted_reason,
        min(coalesce(reason, 'no reason recorded')) filter (
            where status = 'not_done'
        ) as not_done_reason,
    from mart.event
    where kind = 'cord_clamp'
    group by newborn_id
),

asked as (
    select
        newborn.newborn_id as newborn_id,
        newborn.resuscitation in ('ventilation', 'compressions') as is_helped,
        case
            when newborn.gestational_age_days < setting.term_from_weeks * 7
                then setting.preterm_seconds
            when newborn.gestational_age_days is not null then setting.term_seconds
            else greatest(setting.preterm_seconds, setting.term_seconds)
        end as needed_seconds,
    from mart.newborn as newborn
    inner join setting on setting.newborn_id = newborn.newborn_id
)

select
    asked.newborn_id as newborn_id,
    case
        when clamps.excepted_reason is not null then clamps.excepted_reason
        when asked.is_helped then 'more than the initial steps at birth'
    end as exception,
    if(clamps.is_open, null, clamps.not_done_reason) as not_done_reason,
    clamps.newborn_id is not null as is_documented,
    clamps.seconds is not null as is_usable,
    clamps.seconds >= asked.needed_seconds as is_met,
    clamps.seconds / 60 as minutes,
    asked.needed_seconds / 60 as closes_minutes,
from asked
left join clamps on clamps.newborn_id = asked.newborn_id
