/*
title = "Vitamin K on time"
question = "Was vitamin K given into a muscle soon after birth?"
also_called = ["phytomenadione", "phytonadione"]
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 3 hours of age."
numerator = "Vitamin K recorded as given into a muscle inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 360 }
window_status = "published in part"
owner = "born_here_or_arrived"
arrived_before = 180
exceptions = "Declined by the family; contraindicated; newborn not stable; oral regimen chosen or given; put off, and then given into a muscle no later than the unit's limit for it."
parameters = { put_off_until_minutes = 1440 }
missing = "not_met"
sources = [
    "AAP, Pediatrics, 2022: into a muscle, within 6 hours of birth, no single dose into a vein",
    "WHO, 2012 and 2017, as cited in BMC Pediatrics, 2021: after the first hour of contact",
    "Brought in before 3 hours: local decision, no published value",
    "Put off for 24 hours at the longest (put_off_until_minutes): local decision, no published value",
]
disagreement = "Windows run from 1 to 6 hours. A unit that waits for the first hour of skin contact sets at_least to 60; an earlier dose then counts as not met. Some countries give oral regimens. A unit that takes no putting off for a reason sets put_off_until_minutes to 0."
documentation_trap = "A refusal is often on paper only and then looks like a gap. A dose into a vein is recorded care but not this measure: it counts as not met. A dose that may have met the measure, had its route or its time been readable, is unusable and not met by guess; a dose by another route, or one outside the window by whatever route, is not met. A dose put off, with none after it, is a dose not given. A dose given late after a refusal stays an exception; one given in time is met."
caution = "This screens records. Look at refusals and deferrals by language and payer: a difference can be a problem of consent. Dose and weight are not judged here. Local policy and the family decide."
balancing = ["skin_contact_start"]
look_at = ["vitamin K: time, status, reason, route"]
version = "1.1"

[gravity]
level = "serious"
why = "Bleeding for want of vitamin K is rare, and can do lasting damage."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "put off is an exception only where the dose followed within a limit; a dose that may have met it, for its route or time is not known, is unusable also beside another; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 360 still counts, minute 361 is late; the earliest dose counts"
given.admission = """
record_id
at360
at361
twice
"""
given.dose = """
record_id | kind      | minutes | status | route
at360     | vitamin_k | 360     | given  | intramuscular
at361     | vitamin_k | 361     | given  | intramuscular
twice     | vitamin_k | 100     | given  | intramuscular
twice     | vitamin_k | 400     | given  | intramuscular
"""
expect = """
record_id | state | minutes
at360     | met   | 360
at361     | late  | 361
twice     | met   | 100
"""

[[examples]]
because = "a refusal removes only a newborn who did not meet the measure in time"
given.admission = """
record_id
refused
then_given
then_late
no_time
"""
given.dose = """
record_id  | kind      | minutes | status  | reason   | route
refused    | vitamin_k | 60      | refused | declined |
then_given | vitamin_k | 60      | refused | declined |
then_given | vitamin_k | 300     | given   |          | intramuscular
then_late  | vitamin_k | 60      | refused | declined |
then_late  | vitamin_k | 420     | given   |          | intramuscular
no_time    | vitamin_k |         | refused |          |
"""
expect = """
record_id  | state     | reason
refused    | exception | declined
then_given | met       |
then_late  | exception | declined
no_time    | exception | declined
"""

[[examples]]
because = "listed reasons are exceptions, other reasons and none are not done; held and then given late is late"
given.admission = """
record_id
contra
unstable
oral_held
oral_given
oral_late
later
no_stock
not_indicated
no_reason
held_late
"""
given.dose = """
record_id     | kind      | minutes | status | reason          | route
contra        | vitamin_k | 60      | held   | contraindicated |
unstable      | vitamin_k | 60      | held   | unstable        |
oral_held     | vitamin_k | 60      | held   | oral_chosen     |
oral_given    | vitamin_k | 60      | given  |                 | oral
oral_late     | vitamin_k | 60      | given  |                 | oral
oral_late     | vitamin_k | 400     | given  |                 | intramuscular
later         | vitamin_k | 60      | held   | later           |
no_stock      | vitamin_k | 60      | held   | no_stock        |
not_indicated | vitamin_k | 60      | held   | not_indicated   |
no_reason     | vitamin_k | 60      | held   |                 |
held_late     | vitamin_k | 60      | held   | no_stock        |
held_late     | vitamin_k | 400     | given  |                 | intramuscular
"""
expect = """
record_id     | state     | reason
contra        | exception | contraindicated
unstable      | exception | unstable
oral_held     | exception | oral_chosen
oral_given    | exception | oral_chosen
oral_late     | exception | oral_chosen
later         | not_done  | later
no_stock      | not_done  | no_stock
not_indicated | not_done  | not_indicated
no_reason     | not_done  | no reason recorded
held_late     | late      |
"""

[[examples]]
because = "no row is not documented; another route is not met; no route, no time or no readable status is unusable; a dose that met it beside it is taken"
given.admission = """
record_id
no_row
into_vein
no_route
before_birth
no_status
vein_and_bad
mixed
held_and_no
vein_and_muscle
"""
given.dose = """
record_id       | kind                | minutes | status | route         | unusable
no_row          | hepatitis_b_vaccine | 60     | given  | intramuscular |
into_vein       | vitamin_k           | 60      | given  | intravenous   |
no_route        | vitamin_k           | 60      | given  |               |
before_birth    | vitamin_k           |         | given  | intramuscular | minutes
no_status       | vitamin_k           | 60      |        | intramuscular | status
vein_and_bad    | vitamin_k           | 30      | given  | intravenous   |
vein_and_bad    | vitamin_k           |         | given  | intramuscular | minutes
mixed           | vitamin_k           |         | given  | intramuscular | minutes
mixed           | vitamin_k           | 90      | given  | intramuscular |
held_and_no     | vitamin_k           | 60      | held   |               |
held_and_no     | vitamin_k           | 70      |        | intramuscular | status
vein_and_muscle | vitamin_k           | 30      | given  | intravenous   |
vein_and_muscle | vitamin_k           | 90      | given  | intramuscular |
"""
expect = """
record_id       | state          | minutes
no_row          | not_documented |
into_vein       | not_met        |
no_route        | unusable       |
before_birth    | unusable       |
no_status       | unusable       |
vein_and_bad    | unusable       |
mixed           | met            | 90
held_and_no     | not_done       |
vein_and_muscle | met            | 90
"""

[[examples]]
because = "put off is an exception up to the limit and where the dose came by then; beyond it the dose is late, without one it was not given"
given.admission = """
record_id
put_off_1440
put_off_1441
never
put_off_bad
put_off_oral
"""
given.dose = """
record_id    | kind      | minutes | status | reason | route         | unusable
put_off_1440 | vitamin_k | 60      | held   | later  |               |
put_off_1440 | vitamin_k | 1440    | given  |        | intramuscular |
put_off_1441 | vitamin_k | 60      | held   | later  |               |
put_off_1441 | vitamin_k | 1441    | given  |        | intramuscular |
never        | vitamin_k | 60      | held   | later  |               |
put_off_bad  | vitamin_k | 60      | held   | later  |               |
put_off_bad  | vitamin_k |         | given  |        | intramuscular | minutes
put_off_oral | vitamin_k | 60      | held   | later  |               |
put_off_oral | vitamin_k | 2000    | given  |        | oral          |
"""
expect = """
record_id    | state     | minutes | reason
put_off_1440 | exception | 1440    | later
put_off_1441 | late      | 1441    |
never        | not_done  |         | later
put_off_bad  | unusable  |         |
put_off_oral | exception |         | oral_chosen
"""

[[examples]]
because = "a unit that takes no putting off"
policy = { put_off_until_minutes = 0 }
given.admission = """
record_id
put_off
"""
given.dose = """
record_id | kind      | minutes | status | reason | route
put_off   | vitamin_k | 60      | held   | later  |
put_off   | vitamin_k | 400     | given  |        | intramuscular
"""
expect = """
record_id | state | minutes
put_off   | late  | 400
"""

[[examples]]
because = "a route or a time that is not known makes it unusable only where the dose may have met the measure"
given.admission = """
record_id
vein_no_time
blank_at_400
blank_then_late
late_no_time
vein_and_blank
masked_route
"""
given.dose = """
record_id       | kind      | minutes | status | route         | unusable
vein_no_time    | vitamin_k |         | given  | intravenous   | minutes
blank_at_400    | vitamin_k | 400     | given  |               |
blank_then_late | vitamin_k | 60      | given  |               |
blank_then_late | vitamin_k | 400     | given  | intramuscular |
late_no_time    | vitamin_k |         | given  | intramuscular | minutes
late_no_time    | vitamin_k | 400     | given  | intramuscular |
vein_and_blank  | vitamin_k | 30      | given  | intravenous   |
vein_and_blank  | vitamin_k | 60      | given  |               |
masked_route    | vitamin_k | 60      | given  |               | route
"""
expect = """
record_id       | state
vein_no_time    | not_met
blank_at_400    | not_met
blank_then_late | unusable
late_no_time    | unusable
vein_and_blank  | unusable
masked_route    | unusable
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id   | live_birth | birth_place    | discharge_minutes | disposition
still       | false      | birth_room     |                   |
died_at_200 | true       | birth_room     | 200               | died
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
died_at_200 | exclusion
moved_at_40 | exception
elsewhere   | exclusion
on_the_way  | not_documented
comfort     | exclusion
"""

[[examples]]
because = "a unit may wait for the first hour"
policy = { at_least = 60 }
given.admission = """
record_id
at59
at60
"""
given.dose = """
record_id | kind      | minutes | status | route
at59      | vitamin_k | 59      | given  | intramuscular
at60      | vitamin_k | 60      | given  | intramuscular
"""
expect = """
record_id | state
at59      | not_met
at60      | met
"""

[[examples]]
because = "born on the way is owed it here, and so is one brought in before 3 hours; later, or nobody knows when, it is not"
given.admission = """
record_id   | birth_place    | arrival_minutes
on_the_way  | before_arrival | 20
way_untimed | before_arrival |
early       | other_site     | 179
late        | other_site     | 180
way_late    | before_arrival | 180
untimed     | other_site     |
"""
expect = """
record_id   | state          | reason
on_the_way  | not_documented |
way_untimed | not_documented |
early       | not_documented |
late        | exclusion      | arrived too late
way_late    | exclusion      | arrived too late
untimed     | exclusion      | arrival not known
"""

[[examples]]
because = "what was given before a move or a death counts; a move ends what was not done yet, by a care item as by how the stay ended; a reason of its own goes first"
given.admission = """
record_id   | discharge_minutes | disposition
given_moved | 40                | transfer
moved       | 40                | transfer
given_died  | 40                | died
moved_care  |                   |
held_moved  | 40                | transfer
"""
given.dose = """
record_id   | kind      | minutes | status  | reason   | route
given_moved | vitamin_k | 30      | given   |          | intramuscular
given_died  | vitamin_k | 30      | given   |          | intramuscular
held_moved  | vitamin_k | 20      | refused | declined |
"""
given.care = """
record_id  | kind     | minutes | status
moved_care | transfer | 40      | done
"""
expect = """
record_id   | state     | reason
given_moved | met       |
moved       | exception | moved before the window closed
given_died  | met       |
moved_care  | exception | moved before the window closed
held_moved  | exception | declined
"""
*/
with doses as (
    select
        dose.newborn_id as newborn_id,
        min(dose.minutes) filter (
            where dose.status = 'given' and dose.route = 'intramuscular'
        ) as given_minutes,
        coalesce(bool_or(dose.status = 'given'), false) as is_given,
        coalesce(
            bool_or(
                dose.status = 'given'
                and dose.route = 'intramuscular'
                and dose.minutes between setting.at_least and setting.at_most
            ),
            false
        ) as is_in_time,
        -- Given, and perhaps the dose we look for: the record does not say.
        coalesce(
            bool_or(
                dose.status = 'given'
                and coalesce(dose.route = 'intramuscular', true)
                and coalesce(dose.minutes between setting.at_least and setting.at_most, true)
            ),
            false
        ) as may_be_in_time,
        bool_or(dose.status = 'refused' or (dose.status = 'held' and dose.reason = 'declined'))
            as is_declined,
        bool_or(dose.status = 'given' and dose.route = 'oral') as is_oral,
        min(dose.reason) filter (
            where
            dose.status = 'held'
            and dose.reason in ('contraindicated', 'unstable', 'oral_chosen')
        ) as excepted_reason,
        coalesce(bool_or(dose.status = 'held' and dose.reason = 'later'), false) as is_put_off,
        min(coalesce(dose.reason, 'no reason recorded')) filter (
            where dose.status = 'held'
        ) as held_reason,
    from mart.event as dose
    inner join setting on setting.newborn_id = dose.newborn_id
    where dose.kind = 'vitamin_k'
    group by dose.newborn_id
)

select
    newborn.newborn_id as newborn_id,
    case
        when doses.is_declined then 'declined'
        when doses.is_oral then 'oral_chosen'
        when doses.excepted_reason is not null then doses.excepted_reason
        when doses.is_put_off and doses.given_minutes <= setting.put_off_until_minutes
            then 'later'
    end as exception,
    if(doses.is_given, null, doses.held_reason) as not_done_reason,
    doses.newborn_id is not null as is_documented,
    coalesce(doses.is_given and (doses.is_in_time or not doses.may_be_in_time), false)
        as is_usable,
    doses.given_minutes as minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join doses on doses.newborn_id = newborn.newborn_id
