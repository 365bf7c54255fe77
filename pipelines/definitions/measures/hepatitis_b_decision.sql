/*
title = "Hepatitis B vaccine at birth, mother negative: the family's decision"
question = "Where the mother is hepatitis B negative, was the vaccine given or the family's decision recorded within 24 hours?"
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 6 hours of age, at 2000 g or more whose mother was known to be negative by 12 hours."
numerator = "Inside 24 hours, and before discharge: the vaccine recorded as given, or a talk with the family and its decision recorded. A dose recorded as declined or put off is such a decision."
anchor = "birth; the mother's status is read once, at 12 hours"
window = { at_least = 0, at_most = 1440 }
window_status = "local"
parameters = { universal_profile = true, status_read_minutes = 720, small_below_g = 2000, blank_route_counts = true }
follows = { arrived_before = "hepatitis_b_birth_dose", universal_profile = "hepatitis_b_birth_dose", status_read_minutes = "hepatitis_b_birth_dose", small_below_g = "hepatitis_b_birth_dose", blank_route_counts = "hepatitis_b_birth_dose" }
headline_when = { universal_profile = false }
population_needs = ["admission.maternal_hepatitis_b", "admission.weight_g"]
owner = "born_here_or_arrived"
arrived_before = 360
exceptions = "None: putting the vaccine off after a talk meets it."
missing = "not_met"
sources = [
    "CDC, 2025, after a vote of ACIP: individual decision for newborns of negative mothers; since then before the courts",
    "AAP and AAFP, 2025: every newborn within 24 hours, as before",
    "That the decision be recorded within 24 hours: local decision, no published value",
    "Brought in before 6 hours: local decision, no published value",
]
disagreement = "Policy for these newborns has changed more than once since December 2025 and was before the courts in 2026. Two readings are computed side by side: this one, and whether the vaccine was given. Which of them leads is the unit's own profile, set by birth date under hepatitis_b_birth_dose (universal_profile); this file claims nothing about what is in force where you are."
documentation_trap = "A talk or a refusal before birth counts as at birth. The talk is seldom an entry of its own: it hides in a note, and the rate then looks low. A status or weight that is blank or unusable keeps the newborn out of this population; it stands in the measure of protection at birth as unusable."
caution = "This screens records and advises no care. It says nothing about the quality of the talk; look at it by language, and whether an interpreter was there."
balancing = ["hepatitis_b_universal"]
look_at = ["hepatitis B decision: time, status", "hepatitis B vaccine: time, status, reason"]
version = "1.1"

[gravity]
level = "process"
why = "A decision that is on no record is lost to whoever sees the newborn next."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a talk or a refusal before birth is a true event and counts as at birth; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "a talk or a refusal before birth counts as at birth"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
talked    | 3000     | negative
declined  | 3000     | negative
"""
given.care = """
record_id | kind                 | minutes | status
talked    | hepatitis_b_decision | -30000  | done
"""
given.dose = """
record_id | kind                | minutes | status
declined  | hepatitis_b_vaccine | -600    | refused
"""
expect = """
record_id | state | minutes
talked    | met   | 0
declined  | met   | 0
"""

[[examples]]
because = "minute 1440 still counts, 1441 is late; the earlier of dose and decision counts; discharge closes the window"
given.admission = """
record_id    | weight_g | maternal_hepatitis_b | discharge_minutes | disposition
dose_1440    | 2000     | negative             |                   |
dose_1441    | 3000     | negative             |                   |
talk_1440    | 3000     | negative             |                   |
talk_1441    | 3000     | negative             |                   |
both         | 3000     | negative             |                   |
home_at_1000 | 3000     | negative             | 1000              | home
home_after   | 3000     | negative             | 1000              | home
at1999       | 1999     | negative             |                   |
unknown      | 3000     | unknown              |                   |
"""
given.dose = """
record_id | kind                | minutes | status
dose_1440 | hepatitis_b_vaccine | 1440    | given
dose_1441 | hepatitis_b_vaccine | 1441    | given
both      | hepatitis_b_vaccine | 2000    | given
"""
given.care = """
record_id    | kind                 | minutes | status
talk_1440    | hepatitis_b_decision | 1440    | done
talk_1441    | hepatitis_b_decision | 1441    | done
both         | hepatitis_b_decision | 60      | done
home_at_1000 | hepatitis_b_decision | 1000    | done
home_after   | hepatitis_b_decision | 1001    | done
"""
expect = """
record_id    | state | minutes
dose_1440    | met   | 1440
dose_1441    | late  | 1441
talk_1440    | met   | 1440
talk_1441    | late  | 1441
both         | met   | 60
home_at_1000 | met   | 1000
home_after   | late  | 1001
"""

[[examples]]
because = "a dose declined or put off is a decision, a dose held for another reason or for none is not; no row is not documented; not talked over is not done; a masked time is unusable"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
declined  | 3000     | negative
put_off   | 3000     | negative
no_stock  | 3000     | negative
no_why    | 3000     | negative
no_row    | 3000     | negative
not_done  | 3000     | negative
no_reason | 3000     | negative
masked    | 3000     | negative
masked_no | 3000     | negative
mixed     | 3000     | negative
"""
given.dose = """
record_id | kind                | minutes | status  | reason   | unusable
declined  | hepatitis_b_vaccine | 300     | refused |          |
put_off   | hepatitis_b_vaccine | 300     | held    | later    |
no_stock  | hepatitis_b_vaccine | 300     | held    | no_stock |
no_why    | hepatitis_b_vaccine | 300     | held    |          |
masked    | hepatitis_b_vaccine |         | given   |          | minutes
masked_no | hepatitis_b_vaccine |         | refused |          |
mixed     | hepatitis_b_vaccine |         | given   |          | minutes
"""
given.care = """
record_id | kind                 | minutes | status   | reason
not_done  | hepatitis_b_decision | 300     | not_done | mother_unwell
no_reason | hepatitis_b_decision |         | not_done |
mixed     | hepatitis_b_decision | 400     | done     |
"""
expect = """
record_id | state          | reason
declined  | met            |
put_off   | met            |
no_stock  | not_done       | no_stock
no_why    | not_done       | no reason recorded
no_row    | not_documented |
not_done  | not_done       | mother_unwell
no_reason | not_done       | no reason recorded
masked    | unusable       |
masked_no | unusable       |
mixed     | met            |
"""

[[examples]]
because = "standard exclusions up to 24 hours; the profile of the unit changes no state here"
policy = { universal_profile = false }
given.admission = """
record_id    | maternal_hepatitis_b | weight_g | live_birth | birth_place | discharge_minutes | disposition
still        | negative             | 3000     | false      | birth_room  |                   |
died_at_200  | negative             | 3000     | true       | birth_room  | 200               | died
moved_at_900 | negative             | 3000     | true       | birth_room  | 900               | transfer
elsewhere    | negative             | 3000     | true       | other_site  |                   |
comfort      | negative             | 3000     | true       | birth_room  |                   |
given        | negative             | 3000     | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
given.dose = """
record_id | kind                | minutes | status
given     | hepatitis_b_vaccine | 300     | given
"""
expect = """
record_id    | state
still        | exclusion
died_at_200  | exclusion
moved_at_900 | exception
elsewhere    | exclusion
comfort      | exclusion
given        | met
"""

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
with decisions as (
    select
        newborn_id as newborn_id,
        (kind = 'hepatitis_b_decision' and status = 'done')
        or (
            kind = 'hepatitis_b_vaccine'
            and (
                status in ('given', 'refused')
                or (status = 'held' and coalesce(reason in ('declined', 'later'), false))
            )
        ) as is_decided,
        minutes as minutes,
        status as status,
        reason as reason,
    from mart.event
    where kind in ('hepatitis_b_decision', 'hepatitis_b_vaccine')
),

by_newborn as (
    select
        newborn_id as newborn_id,
        -- A talk before birth counts as at birth.
        min(if(minutes < 0, 0, minutes)) filter (where is_decided) as decided_minutes,
        coalesce(bool_or(is_decided or status is null), false) as is_open,
        min(coalesce(reason, 'no reason recorded')) filter (
            where status in ('not_done', 'held') and not is_decided
        ) as not_done_reason,
    from decisions
    group by newborn_id
)

select
    vaccine.newborn_id as newborn_id,
    if(by_newborn.is_open, null, by_newborn.not_done_reason) as not_done_reason,
    by_newborn.newborn_id is not null as is_documented,
    by_newborn.decided_minutes is not null as is_usable,
    by_newborn.decided_minutes as minutes,
    least(setting.at_most, coalesce(way.home_minutes, setting.at_most)) as due_minutes,
    setting.at_most as closes_minutes,
from hepatitis_b_agent as vaccine
inner join mart.way as way on way.newborn_id = vaccine.newborn_id
inner join setting on setting.newborn_id = vaccine.newborn_id
left join by_newborn on by_newborn.newborn_id = vaccine.newborn_id
where
    vaccine.kind = 'hepatitis_b_vaccine'
    and vaccine.mother = 'negative'
    and vaccine.weight_g >= setting.small_below_g
