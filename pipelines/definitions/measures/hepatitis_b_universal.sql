/*
title = "Hepatitis B vaccine at birth, mother negative: every newborn"
question = "Where the mother is hepatitis B negative, did the newborn get the vaccine within 24 hours?"
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 6 hours of age, at 2000 g or more whose mother was known to be negative by 12 hours."
numerator = "Hepatitis B vaccine recorded as given into a muscle inside the window."
anchor = "birth; the mother's status is read once, at 12 hours"
window = { at_least = 0, at_most = 1440 }
window_status = "published"
parameters = { universal_profile = true, status_read_minutes = 720, small_below_g = 2000, blank_route_counts = true }
follows = { arrived_before = "hepatitis_b_birth_dose", universal_profile = "hepatitis_b_birth_dose", status_read_minutes = "hepatitis_b_birth_dose", small_below_g = "hepatitis_b_birth_dose", blank_route_counts = "hepatitis_b_birth_dose" }
headline_when = { universal_profile = true }
population_needs = ["admission.maternal_hepatitis_b", "admission.weight_g"]
owner = "born_here_or_arrived"
arrived_before = 360
exceptions = "Declined by the family; held because the newborn was not stable."
missing = "not_met"
sources = [
    "ACIP, MMWR, 2018: within 24 hours for stable newborns of 2000 g or more",
    "WHO, 2017: for every newborn as soon as possible, within 24 hours",
    "When the mother's status is read (12 hours): local decision, no published value",
    "Brought in before 6 hours: local decision, no published value",
]
disagreement = "Policy for these newborns has changed more than once since December 2025 and was before the courts in 2026. Two readings are computed side by side: this one, and whether the family's decision was recorded. Which of them leads is the unit's own profile, set by birth date under hepatitis_b_birth_dose (universal_profile); this file claims nothing about what is in force where you are. Where the unit's profile is individual decision, this rate describes and does not judge."
documentation_trap = "A status or weight that is blank or unusable keeps the newborn out of this population; it stands in the measure of protection at birth as unusable. A vaccine given elsewhere after discharge is not in this record. A refusal charted as put off counts against the rate."
caution = "This screens records and advises no care. Look at refusals by language and payer: a difference can be a problem of consent. Never read months across a change of profile as one."
balancing = ["hepatitis_b_decision"]
look_at = ["hepatitis B vaccine: time, status, reason", "admission: weight, mother's hepatitis B status"]
version = "1.1"

[gravity]
level = "serious"
why = "The dose at birth is the net under a status that was wrong, or was read wrongly."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 1440 still counts, 1441 is late; 2000 g belongs here, 1999 g does not"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
at1440    | 2000     | negative
at1441    | 3000     | negative
at1999    | 1999     | negative
unweighed |          | negative
unknown   | 3000     | unknown
positive  | 3000     | positive
"""
given.dose = """
record_id | kind                | minutes | status
at1440    | hepatitis_b_vaccine | 1440    | given
at1441    | hepatitis_b_vaccine | 1441    | given
"""
expect = """
record_id | state | minutes
at1440    | met   | 1440
at1441    | late  | 1441
"""

[[examples]]
because = "only mothers known to be negative by 12 hours"
given.admission = """
record_id | weight_g | maternal_hepatitis_b | maternal_hepatitis_b_minutes | unusable
at720     | 3000     | negative             | 720                          |
at721     | 3000     | negative             | 721                          |
before    | 3000     | negative             | -100                         |
masked    | 3000     |                      |                              | maternal_hepatitis_b
bad_time  | 3000     | negative             |                              | maternal_hepatitis_b_minutes
"""
expect = """
record_id | state
at720     | not_documented
before    | not_documented
"""

[[examples]]
because = "declined and not stable are exceptions unless given in time; other reasons are not done; a masked dose is unusable, a usable one beside it taken"
given.admission = """
record_id  | weight_g | maternal_hepatitis_b
declined   | 3000     | negative
held_decl  | 3000     | negative
then_given | 3000     | negative
then_late  | 3000     | negative
unstable   | 3000     | negative
put_off    | 3000     | negative
no_reason  | 3000     | negative
held_late  | 3000     | negative
masked     | 3000     | negative
mixed      | 3000     | negative
"""
given.dose = """
record_id  | kind                | minutes | status  | reason   | unusable
declined   | hepatitis_b_vaccine | 300     | refused |          |
held_decl  | hepatitis_b_vaccine | 300     | held    | declined |
then_given | hepatitis_b_vaccine | 300     | refused | declined |
then_given | hepatitis_b_vaccine | 900     | given   |          |
then_late  | hepatitis_b_vaccine | 300     | refused | declined |
then_late  | hepatitis_b_vaccine | 1500    | given   |          |
unstable   | hepatitis_b_vaccine | 300     | held    | unstable |
put_off    | hepatitis_b_vaccine | 300     | held    | later    |
no_reason  | hepatitis_b_vaccine | 300     | held    |          |
held_late  | hepatitis_b_vaccine | 300     | held    | no_stock |
held_late  | hepatitis_b_vaccine | 1500    | given   |          |
masked     | hepatitis_b_vaccine |         | given   |          | minutes
mixed      | hepatitis_b_vaccine |         | given   |          | minutes
mixed      | hepatitis_b_vaccine | 500     | given   |          |
"""
expect = """
record_id  | state     | reason
declined   | exception | declined
held_decl  | exception | declined
then_given | met       |
then_late  | exception | declined
unstable   | exception | unstable
put_off    | not_done  | later
no_reason  | not_done  | no reason recorded
held_late  | late      |
masked     | unusable  |
mixed      | met       |
"""

[[examples]]
because = "standard exclusions up to 24 hours; the profile of the unit changes no state here"
policy = { universal_profile = false }
given.admission = """
record_id     | maternal_hepatitis_b | weight_g | live_birth | birth_place | discharge_minutes | disposition
still         | negative             | 3000     | false      | birth_room  |                   |
died_at_200   | negative             | 3000     | true       | birth_room  | 200               | died
moved_at_900  | negative             | 3000     | true       | birth_room  | 900               | transfer
moved_at_1440 | negative             | 3000     | true       | birth_room  | 1440              | transfer
elsewhere     | negative             | 3000     | true       | other_site  |                   |
comfort       | negative             | 3000     | true       | birth_room  |                   |
given         | negative             | 3000     | true       | birth_room  |                   |
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
record_id     | state
still         | exclusion
died_at_200   | exclusion
moved_at_900  | exception
moved_at_1440 | not_documented
elsewhere     | exclusion
comfort       | exclusion
given         | met
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

[[examples]]
because = "what was given before a move or a death counts; a move ends what was not done yet, by a care item as by how the stay ended; a reason of its own goes first"
given.admission = """
record_id   | discharge_minutes | disposition | weight_g | maternal_hepatitis_b
given_moved | 40                | transfer    | 3000     | negative
moved       | 40                | transfer    | 3000     | negative
given_died  | 40                | died        | 3000     | negative
moved_care  |                   |             | 3000     | negative
held_moved  | 40                | transfer    | 3000     | negative
"""
given.dose = """
record_id   | kind                | minutes | status  | reason   | route
given_moved | hepatitis_b_vaccine | 30      | given   |          | intramuscular
given_died  | hepatitis_b_vaccine | 30      | given   |          | intramuscular
held_moved  | hepatitis_b_vaccine | 20      | refused | declined |
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
select
    vaccine.newborn_id as newborn_id,
    case
        when vaccine.is_declined then 'declined'
        when vaccine.is_unstable then 'unstable'
    end as exception,
    vaccine.not_done_reason as not_done_reason,
    vaccine.has_row as is_documented,
    vaccine.is_clear as is_usable,
    vaccine.given_minutes as minutes,
from hepatitis_b_agent as vaccine
inner join setting on setting.newborn_id = vaccine.newborn_id
where
    vaccine.kind = 'hepatitis_b_vaccine'
    and vaccine.mother = 'negative'
    and vaccine.weight_g >= setting.small_below_g
