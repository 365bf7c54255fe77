/*
title = "Hepatitis B protection, status not known, 2000 g or more"
question = "Where the mother's status is not known, did the newborn get the vaccine within 12 hours, and immune globulin once she was found positive?"
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 6 hours of age, at 2000 g or more whose mother's status was not known at 12 hours."
numerator = "Hepatitis B vaccine recorded as given into a muscle inside the window; where the mother is found positive later, immune globulin too, within 7 days of birth."
anchor = "birth; the mother's status is read once, at 12 hours"
window = { at_least = 0, at_most = 720 }
window_status = "published"
parameters = { status_read_minutes = 720, small_below_g = 2000, globulin_at_most = 10080, blank_route_counts = true }
follows = { arrived_before = "hepatitis_b_birth_dose", status_read_minutes = "hepatitis_b_birth_dose", small_below_g = "hepatitis_b_birth_dose", blank_route_counts = "hepatitis_b_birth_dose" }
population_needs = ["admission.maternal_hepatitis_b", "admission.weight_g"]
owner = "born_here_or_arrived"
arrived_before = 360
exceptions = "Declined by the family, where that explains what was not given in time."
missing = "not_met"
sources = [
    "ACIP, MMWR, 2018: vaccine within 12 hours; immune globulin as soon as the mother is found positive, within 7 days",
    "When the mother's status is read (12 hours): local decision, no published value",
    "Brought in before 6 hours: local decision, no published value",
]
disagreement = "Whether immune globulin is due where the status is still not known at discharge or 7 days differs between texts; it is not asked for here. This file claims nothing about what is in force: the unit decides."
documentation_trap = "A status or weight that is blank or unusable decides where a newborn belongs: without it the newborn stands in the measure of protection at birth as unusable, not here. A blank status is read as not known. A result filed after the newborn went home may never reach this record. Weight is compared in grams, never in rounded kilograms."
caution = "This screens records and advises no care. Every miss deserves a look at the record at once. A result between 10 and 12 hours leaves little time for what is then due."
balancing = ["maternal_hepatitis_b_known", "route_and_site"]
look_at = ["hepatitis B vaccine and immune globulin: time, status, reason", "admission: weight, mother's hepatitis B status and when it was known"]
version = "1.2"

[gravity]
level = "serious"
why = "A mother whose status is not known may be positive, and the first hours count."

[gravity.states]
late = "serious"
not_documented = "serious"

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[history]]
version = "1.2"
on = 2026-11-30
what = "where both doses came late, the minute told is that of the dose that was due first; no state changes"

[[examples]]
because = "2000 g belongs here, 1999 g does not; vaccine at minute 720 counts, at 721 is late"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
at720     | 2000     | unknown
at721     | 2000     |
at1999    | 1999     | unknown
unweighed |          | unknown
negative  | 3000     | negative
"""
given.dose = """
record_id | kind                | minutes | status
at720     | hepatitis_b_vaccine | 720     | given
at721     | hepatitis_b_vaccine | 721     | given
at1999    | hepatitis_b_vaccine | 660     | given
"""
expect = """
record_id | state | minutes
at720     | met   | 720
at721     | late  | 721
"""

[[examples]]
because = "found positive at 20 hours: vaccine at 10 hours and immune globulin at 26 hours meet it; at 7 days still, a minute later not; found negative asks for no more; of two late doses the one due first is told, of two in time the last given"
given.admission = """
record_id  | weight_g | maternal_hepatitis_b | maternal_hepatitis_b_minutes
at26h      | 3000     | positive             | 1200
at7d       | 3000     | positive             | 1200
after7d    | 3000     | positive             | 1200
none       | 3000     | positive             | 1200
late_both  | 3000     | positive             | 1200
late_two   | 3000     | positive             | 1200
turned     | 3000     | positive             | 1200
negative   | 3000     | negative             | 1200
found720   | 3000     | positive             | 720
"""
given.dose = """
record_id  | kind                        | minutes | status
at26h      | hepatitis_b_vaccine         | 600     | given
at26h      | hepatitis_b_immune_globulin | 1560    | given
at7d       | hepatitis_b_vaccine         | 600     | given
at7d       | hepatitis_b_immune_globulin | 10080   | given
after7d    | hepatitis_b_vaccine         | 600     | given
after7d    | hepatitis_b_immune_globulin | 10081   | given
none       | hepatitis_b_vaccine         | 600     | given
late_both  | hepatitis_b_vaccine         | 800     | given
late_both  | hepatitis_b_immune_globulin | 1560    | given
late_two   | hepatitis_b_vaccine         | 20000   | given
late_two   | hepatitis_b_immune_globulin | 11000   | given
turned     | hepatitis_b_vaccine         | 700     | given
turned     | hepatitis_b_immune_globulin | 500     | given
negative   | hepatitis_b_vaccine         | 600     | given
"""
expect = """
record_id  | state          | minutes
at26h      | met            | 1560
at7d       | met            | 10080
after7d    | late           | 10081
none       | not_documented |
late_both  | late           | 800
late_two   | late           | 20000
turned     | met            | 700
negative   | met            | 600
"""

[[examples]]
because = "no row is not documented, a masked dose or status is unusable or nowhere; a refusal covers what it refuses; another reason is not done"
given.admission = """
record_id   | weight_g | maternal_hepatitis_b | maternal_hepatitis_b_minutes | unusable
no_row      | 3000     | unknown              |                              |
masked      | 3000     | unknown              |                              |
declined    | 3000     | unknown              |                              |
then_given  | 3000     | unknown              |                              |
unstable    | 3000     | unknown              |                              |
held_late   | 3000     | unknown              |                              |
globulin_no | 3000     | positive             | 1200                         |
half_no     | 3000     | positive             | 1200                         |
bad_globul  | 3000     | positive             | 1200                         |
bad_status  | 3000     |                      |                              | maternal_hepatitis_b
"""
given.dose = """
record_id   | kind                        | minutes | status  | reason   | unusable
masked      | hepatitis_b_vaccine         |         | given   |          | minutes
declined    | hepatitis_b_vaccine         | 300     | refused |          |
then_given  | hepatitis_b_vaccine         | 300     | refused | declined |
then_given  | hepatitis_b_vaccine         | 700     | given   |          |
unstable    | hepatitis_b_vaccine         | 300     | held    | unstable |
held_late   | hepatitis_b_vaccine         | 300     | held    | unstable |
held_late   | hepatitis_b_vaccine         | 900     | given   |          |
globulin_no | hepatitis_b_vaccine         | 300     | given   |          |
globulin_no | hepatitis_b_immune_globulin | 1300    | refused | declined |
half_no     | hepatitis_b_vaccine         | 800     | given   |          |
half_no     | hepatitis_b_immune_globulin | 1300    | refused | declined |
bad_globul  | hepatitis_b_vaccine         | 300     | given   |          |
bad_globul  | hepatitis_b_immune_globulin |         | given   |          | minutes
"""
expect = """
record_id   | state          | reason
no_row      | not_documented |
masked      | unusable       |
declined    | exception      | declined
then_given  | met            |
unstable    | not_done       | unstable
held_late   | late           |
globulin_no | exception      | declined
half_no     | not_done       | declined
bad_globul  | unusable       |
"""

[[examples]]
because = "standard exclusions; a newborn moved at 15 hours was due before"
given.admission = """
record_id    | weight_g | live_birth | birth_place | discharge_minutes | disposition
still        | 3000     | false      | birth_room  |                   |
died_at_200  | 3000     | true       | birth_room  | 200               | died
moved_at_40  | 3000     | true       | birth_room  | 40                | transfer
moved_at_900 | 3000     | true       | birth_room  | 900               | transfer
elsewhere    | 3000     | true       | other_site  |                   |
comfort      | 3000     | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id    | state
still        | exclusion
died_at_200  | exclusion
moved_at_40  | exception
moved_at_900 | not_documented
elsewhere    | exclusion
comfort      | exclusion
"""

[[examples]]
because = "born on the way is owed it here, and so is one brought in before 6 hours; later, or nobody knows when, it is not"
given.admission = """
record_id   | birth_place    | arrival_minutes | weight_g | maternal_hepatitis_b
on_the_way  | before_arrival | 20              | 2100     | unknown
way_untimed | before_arrival |                 | 2100     | unknown
early       | other_site     | 359             | 2100     | unknown
late        | other_site     | 360             | 2100     | unknown
way_late    | before_arrival | 360             | 2100     | unknown
untimed     | other_site     |                 | 2100     | unknown
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
with needed as (
    select
        agent.*,
        if(agent.kind = 'hepatitis_b_vaccine', setting.at_most, setting.globulin_at_most)
            as due_minutes,
        coalesce(agent.given_minutes <= due_minutes, false) as is_in_time,
    from hepatitis_b_agent as agent
    inner join setting on setting.newborn_id = agent.newborn_id
    where
        agent.mother = 'unknown'
        and agent.weight_g >= setting.small_below_g
        and (agent.kind = 'hepatitis_b_vaccine' or agent.is_found_positive)
),

together as (
    select
        newborn_id as newborn_id,
        bool_and(is_in_time or is_declined) and bool_or(is_declined) as is_excepted,
        bool_and(is_given or not_done_reason is not null) as is_explained,
        min(not_done_reason) as not_done_reason,
        bool_and(has_row) as has_rows,
        bool_and(given_minutes is not null) as is_timed,
        bool_and(is_clear) as is_clear,
        -- Of late doses the one that was due first decides; else the one that was given last.
        coalesce(
            arg_min(given_minutes, {'due': due_minutes, 'given': given_minutes}) filter (
                where not is_in_time and given_minutes is not null
            ),
            max(given_minutes)
        ) as last_minutes,
        coalesce(
            min(due_minutes) filter (where not is_in_time and given_minutes is not null),
            max(due_minutes)
        ) as due_minutes,
        min(due_minutes) as closes_minutes,
    from needed
    group by newborn_id
)

select
    newborn_id as newborn_id,
    if(is_excepted, 'declined', null) as exception,
    if(is_explained, not_done_reason, null) as not_done_reason,
    has_rows as is_documented,
    is_clear as is_usable,
    if(is_timed, last_minutes, null) as minutes,
    due_minutes as due_minutes,
    closes_minutes as closes_minutes,
from together
