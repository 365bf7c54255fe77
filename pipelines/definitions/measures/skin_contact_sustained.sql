/*
title = "Skin contact held for an hour"
question = "Did skin contact begin in the first hour, and last without a break?"
also_called = ["skin to skin"]
group = "contact and feeding"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit at 35 weeks or more who needed no more than the initial steps at birth and whose skin contact is recorded as begun."
numerator = "The first contact began no later than 60 minutes after birth and lasted at least 60 minutes; breaks of up to 2 minutes are not counted as breaks."
anchor = "the start of the first contact"
window_status = "published in part"
parameters = { hold_minutes = 60, begun_by_minutes = 60, pause_minutes = 2, min_gestation_weeks = 35 }
follows = { min_gestation_weeks = "skin_contact_start" }
population_needs = ["admission.gestational_age_days", "admission.resuscitation"]
owner = "born_here"
exceptions = "Broken off for medical need: recorded as not continued because mother or newborn was not well, or they were apart for medical need. Contact that began later where the mother had general anaesthesia."
missing = "not_met"
sources = [
    "UNICEF and WHO, 2018: at once after birth, without a break, for at least an hour",
    "AAP, 2016, reaffirmed 2022: asks for safe practice during skin contact",
    "Begun no later than 60 minutes after birth, breaks of 2 minutes: local decision, no published value",
]
disagreement = "A contact begun hours after birth is good, and is not the hour after birth: it is not met here; how soon contact began is judged by its own measure. Some ask for 60 minutes, some for 90 or until the first feed: set hold_minutes."
documentation_trap = "The end of contact is seldom charted; without it the newborn is unusable here, and a low rate may be a gap of the record. The record does not say whose skin it was."
caution = "This screens records. Contact needs someone watching: newborns have collapsed and fallen. A break for a reason at the bedside is good care."
balancing = ["first_temperature", "arrival_cold"]
look_at = ["skin contact: start, end, status, reason"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "How long contact lasts depends on mother, newborn and room."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a contact begun later than the first hour is not the hour after birth; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "60 minutes are enough, 59 are not; a break of 2 minutes is none, one of 3 is; a later contact does not count"
given.admission = """
record_id
held60
held59
pause2
pause3
later
overlap
"""
given.care = """
record_id | kind         | minutes | end_minutes | status
held60    | skin_contact | 3       | 63          | done
held59    | skin_contact | 3       | 62          | done
pause2    | skin_contact | 3       | 30          | done
pause2    | skin_contact | 32      | 63          | done
pause3    | skin_contact | 3       | 30          | done
pause3    | skin_contact | 33      | 120         | done
later     | skin_contact | 3       | 20          | done
later     | skin_contact | 200     | 300         | done
overlap   | skin_contact | 3       | 70          | done
overlap   | skin_contact | 10      | 20          | done
"""
expect = """
record_id | state   | minutes
held60    | met     | 60
held59    | not_met | 59
pause2    | met     | 60
pause3    | not_met | 27
later     | not_met | 17
overlap   | met     | 67
"""

[[examples]]
because = "begun at minute 60 is still of the first hour, at 61 it is not, however long; after general anaesthesia it is an exception, unless it was met"
given.admission = """
record_id    | anaesthesia
begun60      |
begun61      |
hours_later  |
on_belly     |
unwell_first |
asleep       | general
asleep_short | general
spinal       | regional
"""
given.care = """
record_id    | kind         | minutes | end_minutes | status   | reason
begun60      | skin_contact | 60      | 120         | done     |
begun61      | skin_contact | 61      | 200         | done     |
hours_later  | skin_contact | 300     | 420         | done     |
on_belly     | skin_contact | -2      | 59          | done     |
unwell_first | skin_contact | 5       |             | not_done | mother_unwell
unwell_first | skin_contact | 300     | 420         | done     |
asleep       | skin_contact | 90      | 160         | done     |
asleep_short | skin_contact | 50      | 80          | done     |
spinal       | skin_contact | 90      | 160         | done     |
"""
expect = """
record_id    | state     | minutes | reason
begun60      | met       | 60      |
begun61      | not_met   | 139     |
hours_later  | not_met   | 120     |
on_belly     | not_met   | 59      |
unwell_first | exception | 120     | mother_unwell
asleep       | exception | 70      | general anaesthesia
asleep_short | not_met   | 30      |
spinal       | not_met   | 70      |
"""

[[examples]]
because = "nothing begun is not in the population; no end, no start or a masked one is unusable"
given.admission = """
record_id
no_row
not_begun
no_end
no_start
masked
"""
given.care = """
record_id | kind         | minutes | end_minutes | status   | reason   | unusable
not_begun | skin_contact |         |             | not_done | declined |
no_end    | skin_contact | 3       |             | done     |          |
no_start  | skin_contact |         | 63          | done     |          |
masked    | skin_contact | 3       |             | done     |          | end_minutes
"""
expect = """
record_id | state
no_end    | unusable
no_start  | unusable
masked    | unusable
"""

[[examples]]
because = "broken off for medical need is an exception unless it had lasted long enough; another reason is none"
given.admission = """
record_id
unwell
no_time
long_first
chosen
"""
given.care = """
record_id  | kind         | minutes | end_minutes | status   | reason
unwell     | skin_contact | 3       | 20          | done     |
unwell     | skin_contact | 20      |             | not_done | newborn_unstable
no_time    | skin_contact | 3       | 20          | done     |
no_time    | skin_contact |         |             | not_done | mother_unwell
long_first | skin_contact | 3       | 90          | done     |
long_first | skin_contact | 90      |             | not_done | separation
chosen     | skin_contact | 3       | 20          | done     |
chosen     | skin_contact | 20      |             | not_done | declined
"""
expect = """
record_id  | state     | reason
unwell     | exception | newborn_unstable
no_time    | exception | mother_unwell
long_first | met       |
chosen     | not_met   |
"""

[[examples]]
because = "early, helped at birth and the standard exclusions are set apart; moved after the hour is not"
given.admission = """
record_id   | live_birth | birth_place | gestational_age_days | resuscitation | discharge_minutes | disposition
weeks34     | true       | birth_room  | 244                  | none          |                   |
weeks35     | true       | birth_room  | 245                  | none          |                   |
helped      | true       | birth_room  | 280                  | ventilation   |                   |
still       | false      | birth_room  | 280                  |               |                   |
moved_at_40 | true       | birth_room  | 280                  | none          | 40                | transfer
moved_at_63 | true       | birth_room  | 280                  | none          | 63                | transfer
elsewhere   | true       | other_site  | 280                  | none          |                   |
comfort     | true       | birth_room  | 280                  | none          |                   |
died_at_30  | true       | birth_room  | 280                  | none          | 30                | died
"""
given.care = """
record_id   | kind         | minutes | end_minutes | status
weeks34     | skin_contact | 3       | 63          | done
weeks35     | skin_contact | 3       | 63          | done
helped      | skin_contact | 3       | 63          | done
still       | skin_contact | 3       | 63          | done
moved_at_40 | skin_contact | 3       | 40          | done
moved_at_63 | skin_contact | 3       | 63          | done
elsewhere   | skin_contact | 3       | 63          | done
comfort     | skin_contact | 3       | 63          | done
comfort     | comfort_care | 5       |             | done
died_at_30  | skin_contact | 3       | 30          | done
"""
expect = """
record_id   | state
weeks34     | exclusion
weeks35     | met
helped      | exclusion
still       | exclusion
moved_at_40 | exception
moved_at_63 | met
elsewhere   | exclusion
comfort     | exclusion
died_at_30  | exclusion
"""

[[examples]]
because = "a unit may ask for 90 minutes"
policy = { hold_minutes = 90 }
given.admission = """
record_id
held89
held90
"""
given.care = """
record_id | kind         | minutes | end_minutes | status
held89    | skin_contact | 3       | 92          | done
held90    | skin_contact | 3       | 93          | done
"""
expect = """
record_id | state
held89    | not_met
held90    | met
"""
*/
with contacts as (
    select
        newborn_id as newborn_id,
        event_id as event_id,
        -- From birth on, where it was noted before birth was complete.
        if(minutes < 0, 0, minutes) as start_minutes,
        end_minutes as end_minutes,
        -- Latest end so far; a contact of which no end is known stays open.
        max(end_minutes) over earlier as latest_minutes,
    from mart.event
    where kind = 'skin_contact' and status = 'done' and minutes is not null
    window earlier as (
        partition by newborn_id order by minutes, end_minutes, event_id
        rows between unbounded preceding and 1 preceding
    )
),

breaks as (
    select
        contacts.newborn_id as newborn_id,
        contacts.start_minutes as start_minutes,
        contacts.end_minutes as end_minutes,
        sum(
            if(contacts.start_minutes > contacts.latest_minutes + setting.pause_minutes, 1, 0)
        ) over (
            partition by contacts.newborn_id
            order by contacts.start_minutes, contacts.end_minutes, contacts.event_id
        ) as breaks_before,
    from contacts
    inner join setting on setting.newborn_id = contacts.newborn_id
),

held as (
    select
        newborn_id as newborn_id,
        min(start_minutes) as start_minutes,
        bool_and(end_minutes is not null) as is_ended,
        max(end_minutes) - min(start_minutes) as held_minutes,
    from breaks
    where breaks_before = 0
    group by newborn_id
),

begun as (
    select
        newborn_id as newborn_id,
        min(reason) filter (
            where status = 'not_done'
            and reason in ('newborn_unstable', 'mother_unwell', 'separation')
        ) as excepted_reason,
    from mart.event
    where kind = 'skin_contact'
    group by newborn_id
    having bool_or(status = 'done')
)

select
    newborn.newborn_id as newborn_id,
    case
        when newborn.gestational_age_days < setting.min_gestation_weeks * 7
            then 'below the least gestation'
        when newborn.resuscitation in ('ventilation', 'compressions')
            then 'more than the initial steps at birth'
    end as exclusion,
    case
        when begun.excepted_reason is not null then begun.excepted_reason
        when newborn.anaesthesia = 'general' and held.start_minutes > setting.begun_by_minutes
            then 'general anaesthesia'
    end as exception,
    true as is_documented,
    coalesce(held.is_ended, false) as is_usable,
    held.held_minutes >= setting.hold_minutes
    and held.start_minutes <= setting.begun_by_minutes as is_met,
    if(held.is_ended, held.held_minutes, null) as minutes,
    coalesce(held.start_minutes, 0) + setting.hold_minutes as closes_minutes,
    -- What ended with a move had not ended before it: only a break longer than a pause shows that.
    if(
        held.is_ended, held.start_minutes + held.held_minutes + setting.pause_minutes, null
    ) as judged_minutes,
from begun
inner join mart.newborn as newborn on newborn.newborn_id = begun.newborn_id
inner join setting on setting.newborn_id = begun.newborn_id
left join held on held.newborn_id = begun.newborn_id
