/*
title = "Hepatitis B protection at birth"
question = "Did the newborn get what the mother's hepatitis B status calls for, in time?"
also_called = ["HBV", "birth dose", "vaccine"]
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 6 hours of age, under the profile in which every newborn is offered the vaccine at birth. A newborn below 2000 g whose mother is negative is due later and set apart here."
numerator = "Everything needed was recorded as given in time, into a muscle. Mother positive: vaccine and immune globulin within 12 hours. Status not known at 12 hours: vaccine within 12 hours, and immune globulin too below 2000 g. Mother negative, 2000 g or more: vaccine within 24 hours."
anchor = "birth; the mother's status is read once, at 12 hours"
window = { at_least = 0, at_most = 1440 }
window_status = "published in part"
parameters = { universal_profile = true, exposed_at_most = 720, status_read_minutes = 720, small_below_g = 2000, blank_route_counts = true }
population_needs = ["admission.maternal_hepatitis_b", "admission.weight_g"]
owner = "born_here_or_arrived"
arrived_before = 360
exceptions = "Everything that was needed and not given in time was declined by the family; or, where the mother is negative, the vaccine was held because the newborn was not stable. Putting it off is not an exception here."
missing = "not_met"
sources = [
    "ACIP, MMWR, 2018: by mother's status and birth weight, 12 and 24 hours",
    "WHO, 2017: vaccine for every newborn as soon as possible, within 24 hours",
    "When the mother's status is read (12 hours): local decision, no published value",
    "Brought in before 6 hours: local decision, no published value",
]
disagreement = "Policy for newborns of negative mothers has changed more than once since December 2025 and was before the courts in 2026. This file claims nothing about what is in force where you are: the unit sets the profile by birth date. With universal_profile off, newborns of negative mothers are excluded here, because a shared decision to wait is then neither a failure nor an exception. Positive and unknown status are not touched by the profile."
documentation_trap = "The mother's result sits on her chart and may not be linked: a blank status is read as not known. A status without a time is read as known before birth; one that cannot be read makes the newborn unusable. Vaccine and immune globulin may come from two feeds; a feed that was not sent looks like a missed dose. A dose by another route than into a muscle is recorded care and not this dose: not met. A blank route is taken as into a muscle where blank_route_counts is set, else it is unusable; a route that cannot be read is unusable. Body site is not judged here, nor is immune globulin given later, once a mother is found positive. Weight is compared in grams, never in rounded kilograms."
caution = "This screens records and advises no care. Every miss where the mother is positive or not known deserves a look at the record at once, not at the month's end. A positive result shortly before 12 hours leaves little time: list those newborns apart. Local policy, current public health advice and the family decide."
balancing = ["skin_contact_start"]
look_at = ["hepatitis B vaccine: time, status, reason, route", "admission: mother's hepatitis B status, weight"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "It sums up the ways by the mother's status; each has its own measure, which says how grave a miss is."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a dose by another route than into a muscle is not the dose; of a blank one the unit says how it is read; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "another route is not met, one that cannot be read is unusable, a blank one counts; beside one that met it, none of them matters"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
muscle    | 3000     | negative
blank     | 3000     | negative
mouth     | 3000     | negative
mouth_bad | 3000     | negative
masked    | 3000     | negative
both      | 3000     | negative
skin_late | 3000     | negative
"""
given.dose = """
record_id | kind                | minutes | status | route         | unusable
muscle    | hepatitis_b_vaccine | 60      | given  | intramuscular |
blank     | hepatitis_b_vaccine | 60      | given  |               |
mouth     | hepatitis_b_vaccine | 60      | given  | oral          |
mouth_bad | hepatitis_b_vaccine |         | given  | oral          | minutes
masked    | hepatitis_b_vaccine | 60      | given  |               | route
both      | hepatitis_b_vaccine | 50      | given  | oral          |
both      | hepatitis_b_vaccine | 60      | given  | intramuscular |
skin_late | hepatitis_b_vaccine | 50      | given  | subcutaneous  |
skin_late | hepatitis_b_vaccine | 1500    | given  | intramuscular |
"""
expect = """
record_id | state    | minutes
muscle    | met      | 60
blank     | met      | 60
mouth     | not_met  |
mouth_bad | not_met  |
masked    | unusable |
both      | met      | 60
skin_late | late     | 1500
"""

[[examples]]
because = "a unit that always charts the route takes a blank one as unusable"
policy = { blank_route_counts = false }
given.admission = """
record_id | weight_g | maternal_hepatitis_b
muscle    | 3000     | negative
blank     | 3000     | negative
mouth     | 3000     | negative
"""
given.dose = """
record_id | kind                | minutes | status | route
muscle    | hepatitis_b_vaccine | 60      | given  | intramuscular
blank     | hepatitis_b_vaccine | 60      | given  |
mouth     | hepatitis_b_vaccine | 60      | given  | oral
"""
expect = """
record_id | state
muscle    | met
blank     | unusable
mouth     | not_met
"""

[[examples]]
because = "mother positive: both by minute 720, whatever the weight; the later dose decides"
given.admission = """
record_id   | weight_g | maternal_hepatitis_b
both        | 3200     | positive
small       | 1500     | positive
unweighed   |          | positive
globulin_l  | 3200     | positive
vaccine_l   | 3200     | positive
no_globulin | 3200     | positive
nothing     | 3200     | positive
"""
given.dose = """
record_id   | kind                        | minutes | status
both        | hepatitis_b_vaccine         | 300     | given
both        | hepatitis_b_immune_globulin | 720     | given
small       | hepatitis_b_vaccine         | 300     | given
small       | hepatitis_b_immune_globulin | 310     | given
unweighed   | hepatitis_b_vaccine         | 300     | given
unweighed   | hepatitis_b_immune_globulin | 310     | given
globulin_l  | hepatitis_b_vaccine         | 300     | given
globulin_l  | hepatitis_b_immune_globulin | 721     | given
vaccine_l   | hepatitis_b_vaccine         | 721     | given
vaccine_l   | hepatitis_b_immune_globulin | 60      | given
no_globulin | hepatitis_b_vaccine         | 300     | given
"""
expect = """
record_id   | state          | minutes
both        | met            | 720
small       | met            | 310
unweighed   | met            | 310
globulin_l  | late           | 721
vaccine_l   | late           | 721
no_globulin | not_documented |
nothing     | not_documented |
"""

[[examples]]
because = "status not known, vaccine at 11 hours, no immune globulin: enough at 2000 g, not at 1999 g; without a weight nobody can say"
given.admission = """
record_id  | weight_g | maternal_hepatitis_b | unusable
at2000     | 2000     | unknown              |
at1999     | 1999     | unknown              |
small_both | 1999     | unknown              |
blank      | 3000     |                      |
vaccine_l  | 3000     | unknown              |
unweighed  |          | unknown              |
neither    |          | unknown              |
masked     |          | unknown              | weight_g
"""
given.dose = """
record_id  | kind                        | minutes | status
at2000     | hepatitis_b_vaccine         | 660     | given
at1999     | hepatitis_b_vaccine         | 660     | given
small_both | hepatitis_b_vaccine         | 660     | given
small_both | hepatitis_b_immune_globulin | 700     | given
blank      | hepatitis_b_vaccine         | 720     | given
vaccine_l  | hepatitis_b_vaccine         | 721     | given
unweighed  | hepatitis_b_vaccine         | 660     | given
masked     | hepatitis_b_vaccine         | 660     | given
"""
expect = """
record_id  | state          | minutes
at2000     | met            | 660
at1999     | not_documented |
small_both | met            | 700
blank      | met            | 720
vaccine_l  | late           | 721
unweighed  | unusable       | 660
neither    | not_documented |
masked     | unusable       | 660
"""

[[examples]]
because = "mother negative: vaccine by minute 1440 from 2000 g on; a smaller newborn is due later and is not judged here; without a weight nobody can say"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
at1440    | 2000     | negative
at1441    | 2000     | negative
nothing   | 3000     | negative
small     | 1999     | negative
unweighed |          | negative
"""
given.dose = """
record_id | kind                | minutes | status
at1440    | hepatitis_b_vaccine | 1440    | given
at1441    | hepatitis_b_vaccine | 1441    | given
small     | hepatitis_b_vaccine | 600     | given
unweighed | hepatitis_b_vaccine | 600     | given
"""
expect = """
record_id | state          | reason
at1440    | met            |
at1441    | late           |
nothing   | not_documented |
small     | exclusion      | due at one month or discharge
unweighed | unusable       |
"""

[[examples]]
because = "the status is read once, at 12 hours: a later result leaves the newborn in the unknown group; an unreadable status or time of it is unusable"
given.admission = """
record_id    | weight_g | maternal_hepatitis_b | maternal_hepatitis_b_minutes | unusable
found_at_20h | 3000     | positive             | 1200                         |
found_at_12h | 3000     | positive             | 720                          |
neg_at_13h   | 3000     | negative             | 780                          |
neg_before   | 3000     | negative             | -5000                        |
bad_status   | 3000     |                      |                              | maternal_hepatitis_b
bad_time     | 3000     | negative             |                              | maternal_hepatitis_b_minutes
"""
given.dose = """
record_id    | kind                        | minutes | status
found_at_20h | hepatitis_b_vaccine         | 600     | given
found_at_20h | hepatitis_b_immune_globulin | 1560    | given
found_at_12h | hepatitis_b_vaccine         | 600     | given
found_at_12h | hepatitis_b_immune_globulin | 1560    | given
neg_at_13h   | hepatitis_b_vaccine         | 800     | given
neg_before   | hepatitis_b_vaccine         | 800     | given
bad_status   | hepatitis_b_vaccine         | 600     | given
bad_time     | hepatitis_b_vaccine         | 600     | given
"""
expect = """
record_id    | state    | minutes
found_at_20h | met      | 600
found_at_12h | late     | 1560
neg_at_13h   | late     | 800
neg_before   | met      | 800
bad_status   | unusable | 600
bad_time     | unusable | 600
"""

[[examples]]
because = "a refusal removes a newborn only if it covers all that was missed; given in time it is met"
given.admission = """
record_id      | weight_g | maternal_hepatitis_b
refused        | 3000     | negative
then_given     | 3000     | negative
then_late      | 3000     | negative
globulin_no    | 3000     | positive
globulin_no_l  | 3000     | positive
vaccine_no     | 3000     | positive
both_no        | 3000     | positive
not_needed_no  | 3000     | negative
"""
given.dose = """
record_id      | kind                        | minutes | status  | reason
refused        | hepatitis_b_vaccine         | 300     | refused | declined
then_given     | hepatitis_b_vaccine         | 300     | refused | declined
then_given     | hepatitis_b_vaccine         | 900     | given   |
then_late      | hepatitis_b_vaccine         | 300     | refused | declined
then_late      | hepatitis_b_vaccine         | 1500    | given   |
globulin_no    | hepatitis_b_vaccine         | 720     | given   |
globulin_no_l  | hepatitis_b_vaccine         | 721     | given   |
globulin_no_l  | hepatitis_b_immune_globulin | 300     | refused | declined
globulin_no    | hepatitis_b_immune_globulin | 300     | refused | declined
vaccine_no     | hepatitis_b_vaccine         | 300     | refused | declined
both_no        | hepatitis_b_vaccine         | 300     | refused | declined
both_no        | hepatitis_b_immune_globulin | 300     | refused | declined
not_needed_no  | hepatitis_b_vaccine         | 300     | given   |
not_needed_no  | hepatitis_b_immune_globulin | 300     | refused | declined
"""
expect = """
record_id      | state          | reason
refused        | exception      | declined
then_given     | met            |
then_late      | exception      | declined
globulin_no    | exception      | declined
globulin_no_l  | not_done       | declined
vaccine_no     | not_documented |
both_no        | exception      | declined
not_needed_no  | met            |
"""

[[examples]]
because = "not stable is an exception only where the mother is negative; other reasons are not done"
given.admission = """
record_id  | weight_g | maternal_hepatitis_b
neg_unst   | 3000     | negative
unk_unst   | 3000     | unknown
held_late  | 3000     | negative
neg_later  | 3000     | negative
neg_blank  | 3000     | negative
pos_stock  | 3000     | positive
"""
given.dose = """
record_id  | kind                        | minutes | status | reason
neg_unst   | hepatitis_b_vaccine         | 300     | held   | unstable
unk_unst   | hepatitis_b_vaccine         | 300     | held   | unstable
held_late  | hepatitis_b_vaccine         | 300     | held   | no_stock
held_late  | hepatitis_b_vaccine         | 1500    | given  |
neg_later  | hepatitis_b_vaccine         | 300     | held   | later
neg_blank  | hepatitis_b_vaccine         | 300     | held   |
pos_stock  | hepatitis_b_vaccine         | 300     | given  |
pos_stock  | hepatitis_b_immune_globulin | 300     | held   | no_stock
"""
expect = """
record_id  | state     | reason
neg_unst   | exception | unstable
unk_unst   | not_done  | unstable
held_late  | late      |
neg_later  | not_done  | later
neg_blank  | not_done  | no reason recorded
pos_stock  | not_done  | no_stock
"""

[[examples]]
because = "a masked time or status is unusable; a usable dose beside it is taken"
given.admission = """
record_id    | weight_g | maternal_hepatitis_b
before_birth | 3000     | negative
no_status    | 3000     | negative
mixed        | 3000     | negative
twice        | 3000     | negative
half         | 3000     | positive
half_no      | 3000     | positive
"""
given.dose = """
record_id    | kind                        | minutes | status | unusable
before_birth | hepatitis_b_vaccine         |         | given  | minutes
no_status    | hepatitis_b_vaccine         | 300     |        | status
mixed        | hepatitis_b_vaccine         |         | given  | minutes
mixed        | hepatitis_b_vaccine         | 400     | given  |
twice        | hepatitis_b_vaccine         | 400     | given  |
twice        | hepatitis_b_vaccine         | 2000    | given  |
half         | hepatitis_b_vaccine         | 300     | given  |
half         | hepatitis_b_immune_globulin |         | given  | minutes
half_no      | hepatitis_b_vaccine         | 300     | held   |
half_no      | hepatitis_b_immune_globulin | 300     |        | status
"""
expect = """
record_id    | state    | minutes
before_birth | unusable |
no_status    | unusable |
mixed        | met      | 400
twice        | met      | 400
half         | unusable |
half_no      | unusable |
"""

[[examples]]
because = "standard exclusions; a newborn due by 12 hours who left at 15 hours is not among them"
given.admission = """
record_id   | weight_g | maternal_hepatitis_b | live_birth | birth_place | discharge_minutes | disposition
still       | 3000     | negative             | false      | birth_room  |                   |
died_at_200 | 3000     | negative             | true       | birth_room  | 200               | died
moved_at_40 | 3000     | negative             | true       | birth_room  | 40                | transfer
neg_at_900  | 3000     | negative             | true       | birth_room  | 900               | transfer
pos_at_900  | 3000     | positive             | true       | birth_room  | 900               | transfer
elsewhere   | 3000     | negative             | true       | other_site  |                   |
comfort     | 3000     | negative             | true       | birth_room  |                   |
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
neg_at_900  | exception
pos_at_900  | not_documented
elsewhere   | exclusion
comfort     | exclusion
"""

[[examples]]
because = "with the universal profile off, only positive and unknown status are measured"
policy = { universal_profile = false }
given.admission = """
record_id | weight_g | maternal_hepatitis_b
neg_given | 3000     | negative
neg_none  | 3000     | negative
unknown   | 3000     | unknown
positive  | 3000     | positive
"""
given.dose = """
record_id | kind                | minutes | status
neg_given | hepatitis_b_vaccine | 300     | given
unknown   | hepatitis_b_vaccine | 300     | given
"""
expect = """
record_id | state          | reason
neg_given | exclusion      | individual decision by policy
neg_none  | exclusion      | individual decision by policy
unknown   | met            |
positive  | not_documented |
"""

[[examples]]
because = "the profile of the birth date holds, whatever the day of the run: the day before a change keeps the old one"
given.admission = """
record_id | birth_date | birth_month | weight_g | maternal_hepatitis_b
day_15    | 2025-12-15 | 2025-12-01  | 3000     | negative
day_16    | 2025-12-16 | 2025-12-01  | 3000     | negative
day_mar17 | 2026-03-17 | 2026-03-01  | 3000     | negative
"""
expect = """
record_id | state
day_15    | not_documented
day_16    | exclusion
day_mar17 | not_documented
"""

[[examples.policy]]
from = 2025-12-16
universal_profile = false

[[examples.policy]]
from = 2026-03-17
universal_profile = true

[[examples]]
because = "born on the way is owed it here, and so is one brought in before 6 hours; later, or nobody knows when, it is not"
given.admission = """
record_id   | birth_place    | arrival_minutes | weight_g | maternal_hepatitis_b
on_the_way  | before_arrival | 20              | 3000     | negative
way_untimed | before_arrival |                 | 3000     | negative
early       | other_site     | 359             | 3000     | negative
late        | other_site     | 360             | 3000     | negative
way_late    | before_arrival | 360             | 3000     | negative
untimed     | other_site     |                 | 3000     | negative
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
*/
with needs as (
    select
        agent.newborn_id as newborn_id,
        agent.weight_g < setting.small_below_g as is_small,
        agent.mother = 'negative' as is_negative,
        agent.mother = 'positive' or (agent.mother = 'unknown' and coalesce(is_small, false))
            as needs_globulin,
        if(agent.mother in ('positive', 'unknown'), setting.exposed_at_most, setting.at_most)
            as due_minutes,
        agent.mother = 'unreadable' or (agent.mother <> 'positive' and is_small is null)
            as is_undecided,
        case
            when agent.mother <> 'negative' then null
            when not setting.universal_profile then 'individual decision by policy'
            when is_small then 'due at one month or discharge'
        end as exclusion,
    from hepatitis_b_agent as agent
    inner join setting on setting.newborn_id = agent.newborn_id
    where agent.kind = 'hepatitis_b_vaccine'
),

needed as (
    select
        agent.*,
        coalesce(agent.given_minutes <= needs.due_minutes, false) as is_in_time,
        case
            when agent.is_declined then 'declined'
            when agent.is_unstable and needs.is_negative then 'unstable'
        end as excepted_reason,
    from needs
    inner join hepatitis_b_agent as agent on agent.newborn_id = needs.newborn_id
    where agent.kind = 'hepatitis_b_vaccine' or needs.needs_globulin
),

together as (
    select
        newborn_id as newborn_id,
        bool_and(has_row) as has_rows,
        bool_and(given_minutes is not null) as is_timed,
        bool_and(is_clear) as is_clear,
        max(given_minutes) as last_minutes,
        bool_and(is_in_time or excepted_reason is not null) as is_excepted,
        min(excepted_reason) filter (where not is_in_time) as excepted_reason,
        -- Recorded as not done only where that explains every dose that was not given.
        bool_and(is_given or not_done_reason is not null) as is_explained,
        min(not_done_reason) as not_done_reason,
    from needed
    group by newborn_id
)

select
    needs.newborn_id as newborn_id,
    needs.exclusion as exclusion,
    if(together.is_excepted, together.excepted_reason, null) as exception,
    if(together.is_explained, together.not_done_reason, null) as not_done_reason,
    together.has_rows as is_documented,
    together.is_clear and not needs.is_undecided as is_usable,
    if(together.is_timed, together.last_minutes, null) as minutes,
    needs.due_minutes as due_minutes,
from needs
inner join together on together.newborn_id = needs.newborn_id
