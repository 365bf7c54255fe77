/*
title = "Skin contact begun promptly"
question = "Did skin contact begin soon after birth?"
also_called = ["skin to skin"]
group = "contact and feeding"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit at 35 weeks or more who needed no more than the initial steps at birth. A newborn whose gestation or resuscitation is not recorded stays in."
numerator = "Skin contact recorded as begun inside the window: 5 minutes after a vaginal, 15 after a caesarean birth."
anchor = "birth"
window = { at_least = 0 }
window_status = "local"
parameters = { vaginal_at_most = 5, caesarean_at_most = 15, min_gestation_weeks = 35 }
population_needs = ["admission.gestational_age_days", "admission.resuscitation"]
owner = "born_here"
exceptions = "Declined by the family; mother not well enough; mother under general anaesthesia; newborn not stable; apart for medical need."
missing = "not_met"
sources = [
    "5 and 15 minutes: local decision, no published value",
    "UNICEF and WHO, 2018: at once after birth and without a break",
    "AAP, 2016, reaffirmed 2022: asks for safe practice during skin contact",
    "Anesthesia and Analgesia, 2014: newborns cooled in skin contact at caesarean unless warmed",
]
disagreement = "Units count from birth or from the end of the first assessment; after a caesarean some allow 30 minutes."
documentation_trap = "Contact noted a few minutes before birth was complete counts as begun at birth. The record does not say whose skin it was: contact with another adult counts as begun. Without a mode of birth a start between the two windows cannot be judged and is unusable. Ticks without a time are unusable."
caution = "This screens records. Skin contact needs someone watching: newborns have collapsed and fallen, and cooled at caesarean births where nothing warmed them. Local policy decides who is fit for it."
balancing = ["arrival_cold", "arrival_temperature", "first_temperature"]
look_at = ["skin contact: start, status, reason"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "When contact begins depends on mother, newborn and room."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "contact noted before birth was complete counts as begun at birth; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "contact noted before birth was complete counts as begun at birth"
given.admission = """
record_id | mode_of_birth
on_belly  | vaginal
"""
given.care = """
record_id | kind         | minutes | status
on_belly  | skin_contact | -2      | done
"""
expect = """
record_id | state | minutes
on_belly  | met   | 0
"""

[[examples]]
because = "vaginal: minute 5 counts, 6 is late; caesarean: 15 counts, 16 is late; the first start counts"
given.admission = """
record_id | mode_of_birth       | gestational_age_days
v5        | vaginal             | 280
v6        | assisted_vaginal    | 280
c15       | caesarean_planned   | 280
c16       | caesarean_unplanned | 280
twice     | vaginal             | 280
"""
given.care = """
record_id | kind         | minutes | end_minutes | status
v5        | skin_contact | 5       | 65          | done
v6        | skin_contact | 6       | 65          | done
c15       | skin_contact | 15      | 80          |
c16       | skin_contact | 16      | 80          | done
twice     | skin_contact | 2       | 10          | done
twice     | skin_contact | 30      | 90          | done
"""
expect = """
record_id | state | minutes
v5        | met   | 5
v6        | late  | 6
c15       | met   | 15
c16       | late  | 16
twice     | met   | 2
"""

[[examples]]
because = "without a mode of birth only a start between the two windows cannot be judged"
given.admission = """
record_id | mode_of_birth | unusable
at5       |               |
at6       |               | mode_of_birth
at15      |               |
at16      |               |
"""
given.care = """
record_id | kind         | minutes | status
at5       | skin_contact | 5       | done
at6       | skin_contact | 6       | done
at15      | skin_contact | 15      | done
at16      | skin_contact | 16      | done
"""
expect = """
record_id | state
at5       | met
at6       | unusable
at15      | unusable
at16      | late
"""

[[examples]]
because = "no row is not documented; a masked time or a tick without a time is unusable; a usable start beside it is taken"
given.admission = """
record_id    | mode_of_birth
no_row       | vaginal
before_birth | vaginal
tick         | vaginal
mixed        | vaginal
"""
given.care = """
record_id    | kind         | minutes | status | unusable
before_birth | skin_contact |         | done   | minutes
tick         | skin_contact |         | done   |
mixed        | skin_contact |         | done   | minutes
mixed        | skin_contact | 3       | done   |
"""
expect = """
record_id    | state          | minutes
no_row       | not_documented |
before_birth | unusable       |
tick         | unusable       |
mixed        | met            | 3
"""

[[examples]]
because = "below 35 weeks and after more than the initial steps a newborn is excluded; where neither is recorded it stays in"
given.admission = """
record_id   | mode_of_birth | gestational_age_days | resuscitation
w34d6       | vaginal       | 244                  | none
w35d0       | vaginal       | 245                  | none
ventilated  | vaginal       | 280                  | ventilation
compressed  | vaginal       | 280                  | compressions
not_known   | vaginal       |                      |
"""
given.care = """
record_id   | kind         | minutes | status
w34d6       | skin_contact | 3       | done
w35d0       | skin_contact | 3       | done
ventilated  | skin_contact | 3       | done
not_known   | skin_contact | 3       | done
"""
expect = """
record_id   | state     | reason
w34d6       | exclusion | below the least gestation
w35d0       | met       |
ventilated  | exclusion | more than the initial steps at birth
compressed  | exclusion | more than the initial steps at birth
not_known   | met       |
"""

[[examples]]
because = "listed reasons are exceptions unless contact began in time; others and none are not done"
given.admission = """
record_id    | mode_of_birth       | anaesthesia
declined     | vaginal             | none
mother       | vaginal             | none
unstable     | vaginal             | none
apart        | caesarean_planned   | regional
asleep       | caesarean_unplanned | general
asleep_done  | caesarean_unplanned | general
asleep_none  | caesarean_unplanned | general
then_begun   | vaginal             | none
then_late    | vaginal             | none
emergency    | vaginal             | none
moved_late   | vaginal             | none
no_reason    | vaginal             | none
"""
given.care = """
record_id    | kind         | minutes | status   | reason
declined     | skin_contact | 1       | not_done | declined
mother       | skin_contact | 1       | not_done | mother_unwell
unstable     | skin_contact | 1       | not_done | newborn_unstable
apart        | skin_contact |         | not_done | separation
asleep       | skin_contact | 60      | done     |
asleep_done  | skin_contact | 10      | done     |
then_begun   | skin_contact | 1       | not_done | declined
then_begun   | skin_contact | 4       | done     |
then_late    | skin_contact | 1       | not_done | declined
then_late    | skin_contact | 40      | done     |
emergency    | skin_contact | 1       | not_done | emergency_move
moved_late   | skin_contact | 1       | not_done | emergency_move
moved_late   | skin_contact | 40      | done     |
no_reason    | skin_contact | 1       | not_done |
"""
expect = """
record_id    | state     | reason
declined     | exception | declined
mother       | exception | mother_unwell
unstable     | exception | newborn_unstable
apart        | exception | separation
asleep       | exception | general anaesthesia
asleep_done  | met       |
asleep_none  | exception | general anaesthesia
then_begun   | met       |
then_late    | exception | declined
emergency    | not_done  | emergency_move
moved_late   | late      |
no_reason    | not_done  | no reason recorded
"""

[[examples]]
because = "standard exclusions; the window of a newborn moved at 40 minutes had closed"
given.admission = """
record_id   | live_birth | birth_place    | mode_of_birth | discharge_minutes | disposition
still       | false      | birth_room     | vaginal       |                   |
died_at_3   | true       | birth_room     | vaginal       | 3                 | died
moved_at_40 | true       | birth_room     | vaginal       | 40                | transfer
elsewhere   | true       | other_site     | vaginal       |                   |
on_the_way  | true       | before_arrival | vaginal       |                   |
comfort     | true       | birth_room     | vaginal       |                   |
"""
given.care = """
record_id   | kind         | minutes | status
comfort     | comfort_care | 0       | done
moved_at_40 | skin_contact | 3       | done
"""
expect = """
record_id   | state
still       | exclusion
died_at_3   | exclusion
moved_at_40 | met
elsewhere   | exclusion
on_the_way  | exclusion
comfort     | exclusion
"""
*/
with contacts as (
    select
        newborn_id as newborn_id,
        coalesce(bool_or(status = 'done'), false) as is_done,
        min(if(minutes < 0, 0, minutes)) filter (where status = 'done') as start_minutes,
        min(reason) filter (
            where
            status = 'not_done'
            and reason in ('declined', 'mother_unwell', 'newborn_unstable', 'separation')
        ) as excepted_reason,
        min(coalesce(reason, 'no reason recorded')) filter (
            where status = 'not_done'
        ) as not_done_reason,
    from mart.event
    where kind = 'skin_contact'
    group by newborn_id
),

newborns as (
    select
        newborn.newborn_id as newborn_id,
        newborn.mode_of_birth as mode_of_birth,
        newborn.anaesthesia as anaesthesia,
        setting.vaginal_at_most as vaginal_at_most,
        setting.caesarean_at_most as caesarean_at_most,
        case
            when newborn.gestational_age_days < setting.min_gestation_weeks * 7
                then 'below the least gestation'
            when newborn.resuscitation in ('ventilation', 'compressions')
                then 'more than the initial steps at birth'
        end as exclusion,
        if(
            newborn.mode_of_birth in ('vaginal', 'assisted_vaginal'),
            setting.vaginal_at_most,
            setting.caesarean_at_most
        ) as due_minutes,
    from mart.newborn as newborn
    inner join setting on setting.newborn_id = newborn.newborn_id
)

select
    newborns.newborn_id as newborn_id,
    newborns.exclusion as exclusion,
    case
        when contacts.excepted_reason is not null then contacts.excepted_reason
        when newborns.anaesthesia = 'general' then 'general anaesthesia'
    end as exception,
    if(contacts.is_done, null, contacts.not_done_reason) as not_done_reason,
    contacts.newborn_id is not null as is_documented,
    contacts.start_minutes is not null
    -- Between the two windows the mode of birth decides.
    and not (
        newborns.mode_of_birth is null
        and contacts.start_minutes > least(newborns.vaginal_at_most, newborns.caesarean_at_most)
        and contacts.start_minutes <= greatest(newborns.vaginal_at_most, newborns.caesarean_at_most)
    ) as is_usable,
    contacts.start_minutes as minutes,
    newborns.due_minutes as due_minutes,
from newborns
left join contacts on contacts.newborn_id = newborns.newborn_id
