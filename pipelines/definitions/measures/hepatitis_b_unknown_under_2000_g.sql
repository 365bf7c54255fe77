/*
title = "Hepatitis B protection, status not known, below 2000 g"
question = "Where the mother's status is not known and the newborn is small, did it get vaccine and immune globulin within 12 hours?"
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 6 hours of age, below 2000 g whose mother's status was not known at 12 hours."
numerator = "Hepatitis B vaccine and immune globulin both recorded as given into a muscle inside the window."
anchor = "birth; the mother's status is read once, at 12 hours"
window = { at_least = 0, at_most = 720 }
window_status = "published"
parameters = { status_read_minutes = 720, small_below_g = 2000, blank_route_counts = true }
follows = { arrived_before = "hepatitis_b_birth_dose", status_read_minutes = "hepatitis_b_birth_dose", small_below_g = "hepatitis_b_birth_dose", blank_route_counts = "hepatitis_b_birth_dose" }
population_needs = ["admission.maternal_hepatitis_b", "admission.weight_g"]
owner = "born_here_or_arrived"
arrived_before = 360
exceptions = "Declined by the family, where that explains everything not given in time."
missing = "not_met"
sources = [
    "ACIP, MMWR, 2018: below 2000 g vaccine and immune globulin within 12 hours where the status cannot be settled by then",
    "When the mother's status is read (12 hours): local decision, no published value",
    "Brought in before 6 hours: local decision, no published value",
]
disagreement = "No disagreement was found for newborns of mothers whose status is not known. This file claims nothing about what is in force: the unit decides."
documentation_trap = "A status or weight that is blank or unusable decides where a newborn belongs: without it the newborn stands in the measure of protection at birth as unusable, not here. A blank status is read as not known. Weight is compared in grams, never in rounded kilograms. The birth dose of so small a newborn is not counted in the series of vaccines."
caution = "This screens records and advises no care. Every miss deserves a look at the record at once. Few newborns belong here: read records, not rates."
balancing = ["maternal_hepatitis_b_known", "route_and_site"]
look_at = ["hepatitis B vaccine and immune globulin: time, status, reason", "admission: weight, mother's hepatitis B status and when it was known"]
version = "1.1"

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

[[examples]]
because = "1999 g belongs here, 2000 g does not; both by minute 720, vaccine alone is not enough"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
at720     | 1999     | unknown
at721     | 1999     | unknown
alone     | 1999     |
at2000    | 2000     | unknown
unweighed |          | unknown
negative  | 1999     | negative
"""
given.dose = """
record_id | kind                        | minutes | status
at720     | hepatitis_b_vaccine         | 660     | given
at720     | hepatitis_b_immune_globulin | 720     | given
at721     | hepatitis_b_vaccine         | 660     | given
at721     | hepatitis_b_immune_globulin | 721     | given
alone     | hepatitis_b_vaccine         | 660     | given
at2000    | hepatitis_b_vaccine         | 660     | given
"""
expect = """
record_id | state          | minutes
at720     | met            | 720
at721     | late           | 721
alone     | not_documented |
"""

[[examples]]
because = "the status is read once, at 12 hours; one that nobody can read belongs nowhere"
given.admission = """
record_id    | weight_g | maternal_hepatitis_b | maternal_hepatitis_b_minutes | unusable
found_at_720 | 1500     | positive             | 720                          |
found_at_721 | 1500     | positive             | 721                          |
neg_at_800   | 1500     | negative             | 800                          |
masked       | 1500     |                      |                              | maternal_hepatitis_b
bad_time     | 1500     | negative             |                              | maternal_hepatitis_b_minutes
"""
expect = """
record_id    | state
found_at_721 | not_documented
neg_at_800   | not_documented
"""

[[examples]]
because = "a masked dose is unusable; a refusal removes a newborn only if it covers all that was missed; another reason is not done"
given.admission = """
record_id  | weight_g | maternal_hepatitis_b
masked     | 1500     | unknown
declined   | 1500     | unknown
one_late   | 1500     | unknown
then_given | 1500     | unknown
no_stock   | 1500     | unknown
"""
given.dose = """
record_id  | kind                        | minutes | status  | reason   | unusable
masked     | hepatitis_b_vaccine         | 300     | given   |          |
masked     | hepatitis_b_immune_globulin |         | given   |          | minutes
declined   | hepatitis_b_vaccine         | 300     | given   |          |
declined   | hepatitis_b_immune_globulin | 300     | refused | declined |
one_late   | hepatitis_b_vaccine         | 721     | given   |          |
one_late   | hepatitis_b_immune_globulin | 300     | refused | declined |
then_given | hepatitis_b_vaccine         | 300     | given   |          |
then_given | hepatitis_b_immune_globulin | 300     | refused | declined |
then_given | hepatitis_b_immune_globulin | 700     | given   |          |
no_stock   | hepatitis_b_vaccine         | 300     | given   |          |
no_stock   | hepatitis_b_immune_globulin |         | held    | no_stock |
"""
expect = """
record_id  | state     | reason
masked     | unusable  |
declined   | exception | declined
one_late   | not_done  | declined
then_given | met       |
no_stock   | not_done  | no_stock
"""

[[examples]]
because = "standard exclusions; a newborn moved at 15 hours was due before"
given.admission = """
record_id    | weight_g | live_birth | birth_place | discharge_minutes | disposition
still        | 1500     | false      | birth_room  |                   |
died_at_200  | 1500     | true       | birth_room  | 200               | died
moved_at_40  | 1500     | true       | birth_room  | 40                | transfer
moved_at_900 | 1500     | true       | birth_room  | 900               | transfer
elsewhere    | 1500     | true       | other_site  |                   |
comfort      | 1500     | true       | birth_room  |                   |
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
on_the_way  | before_arrival | 20              | 1900     | unknown
way_untimed | before_arrival |                 | 1900     | unknown
early       | other_site     | 359             | 1900     | unknown
late        | other_site     | 360             | 1900     | unknown
way_late    | before_arrival | 360             | 1900     | unknown
untimed     | other_site     |                 | 1900     | unknown
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
select
    doses.newborn_id as newborn_id,
    if(doses.is_in_time_or_declined and doses.is_any_declined, 'declined', null) as exception,
    doses.not_done_reason as not_done_reason,
    doses.is_documented as is_documented,
    doses.is_usable as is_usable,
    doses.minutes as minutes,
from hepatitis_b_both as doses
inner join setting on setting.newborn_id = doses.newborn_id
where doses.mother = 'unknown' and doses.weight_g < setting.small_below_g
