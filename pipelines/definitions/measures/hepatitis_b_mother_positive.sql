/*
title = "Hepatitis B protection, mother positive"
question = "Where the mother is hepatitis B positive, did the newborn get vaccine and immune globulin within 12 hours?"
also_called = ["HBV", "immunoglobulin", "HBIG"]
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 6 hours of age, whose mother's status was known to be positive by 12 hours; other evidence of infection counts as positive."
numerator = "Hepatitis B vaccine and immune globulin both recorded as given inside the window, into a muscle, and not at one site where they were given together."
anchor = "birth; the mother's status is read once, at 12 hours"
window = { at_least = 0, at_most = 720 }
window_status = "published"
parameters = { status_read_minutes = 720, blank_route_counts = true, together_minutes = 60 }
follows = { arrived_before = "hepatitis_b_birth_dose", status_read_minutes = "hepatitis_b_birth_dose", blank_route_counts = "hepatitis_b_birth_dose", together_minutes = "route_and_site" }
population_needs = ["admission.maternal_hepatitis_b"]
owner = "born_here_or_arrived"
arrived_before = 360
exceptions = "Declined by the family, where that explains everything not given in time."
missing = "not_met"
sources = [
    "ACIP, MMWR, 2018: vaccine and immune globulin within 12 hours, at separate sites, whatever the weight",
    "When the mother's status is read (12 hours): local decision, no published value",
    "Brought in before 6 hours: local decision, no published value",
]
disagreement = "No disagreement was found for newborns of positive mothers; changes of policy since 2025 do not touch them. This file claims nothing about what is in force: the unit decides."
documentation_trap = "Vaccine and immune globulin often come from two feeds; a feed that was not sent looks like a missed dose. Two doses given together whose sites are recorded and the same are not met; a blank site or a time that is not known is not judged here."
caution = "This screens records and advises no care. Every miss deserves a look at the record at once, not at the month's end. Few newborns belong here: read records, not rates."
balancing = ["route_and_site"]
look_at = ["hepatitis B vaccine and immune globulin: time, status, reason, route", "admission: mother's hepatitis B status and when it was known"]
version = "1.1"

[gravity]
level = "sentinel"
why = "An infection at birth becomes chronic in most newborns, and the doses of the first hours prevent most of them. Each hour counts, and so does a dose that is on no record."
source = "ACIP, MMWR, 2018, for the doses and the window; that each miss is read at once: local decision"

[gravity.states]
late = "sentinel"
not_documented = "sentinel"
unusable = "sentinel"

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "sites are compared only where both were given together; a dose by another route than into a muscle is not the dose; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "one site hours apart is no matter; one of the two by mouth is not met, by a route that cannot be read unusable"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
apart61   | 3200     | positive
apart60   | 3200     | positive
mouth     | 3200     | positive
masked    | 3200     | positive
"""
given.dose = """
record_id | kind                        | minutes | status | route         | site       | unusable
apart61   | hepatitis_b_vaccine         | 300     | given  | intramuscular | left_thigh |
apart61   | hepatitis_b_immune_globulin | 361     | given  | intramuscular | left_thigh |
apart60   | hepatitis_b_vaccine         | 300     | given  | intramuscular | left_thigh |
apart60   | hepatitis_b_immune_globulin | 360     | given  | intramuscular | left_thigh |
mouth     | hepatitis_b_vaccine         | 300     | given  | oral          |            |
mouth     | hepatitis_b_immune_globulin | 301     | given  | intramuscular | left_thigh |
masked    | hepatitis_b_vaccine         | 300     | given  |               |            | route
masked    | hepatitis_b_immune_globulin | 301     | given  | intramuscular | left_thigh |
"""
expect = """
record_id | state    | minutes
apart61   | met      | 361
apart60   | not_met  |
mouth     | not_met  |
masked    | unusable |
"""

[[examples]]
because = "both by minute 720, the later decides, whatever the weight; one site for both is not met, also after a refusal, a blank site is taken on trust"
given.admission = """
record_id | weight_g | maternal_hepatitis_b
at720     | 3200     | positive
at721     | 3200     | positive
small     | 1500     | positive
same_site | 3200     | positive
after_no  | 3200     | positive
two_sites | 3200     | positive
"""
given.dose = """
record_id | kind                        | minutes | status  | site
at720     | hepatitis_b_vaccine         | 300     | given   |
at720     | hepatitis_b_immune_globulin | 720     | given   | left_thigh
at721     | hepatitis_b_vaccine         | 721     | given   |
at721     | hepatitis_b_immune_globulin | 60      | given   |
small     | hepatitis_b_vaccine         | 300     | given   |
small     | hepatitis_b_immune_globulin | 310     | given   |
same_site | hepatitis_b_vaccine         | 300     | given   | left_thigh
same_site | hepatitis_b_immune_globulin | 301     | given   | left_thigh
after_no  | hepatitis_b_vaccine         | 300     | given   | left_thigh
after_no  | hepatitis_b_immune_globulin | 100     | refused |
after_no  | hepatitis_b_immune_globulin | 301     | given   | left_thigh
two_sites | hepatitis_b_vaccine         | 300     | given   | left_thigh
two_sites | hepatitis_b_immune_globulin | 301     | given   | right_thigh
"""
expect = """
record_id | state   | minutes
at720     | met     | 720
at721     | late    | 721
small     | met     | 310
same_site | not_met |
after_no  | not_met |
two_sites | met     | 301
"""

[[examples]]
because = "only mothers known to be positive by 12 hours; known before birth, with or without its time, counts"
given.admission = """
record_id   | weight_g | maternal_hepatitis_b | maternal_hepatitis_b_minutes | unusable
known_at720 | 3200     | positive             | 720                          |
known_at721 | 3200     | positive             | 721                          |
before      | 3200     | positive             | -5000                        |
negative    | 3200     | negative             |                              |
unknown     | 3200     | unknown              |                              |
blank       | 3200     |                      |                              |
masked      | 3200     |                      |                              | maternal_hepatitis_b
"""
expect = """
record_id   | state
known_at720 | not_documented
before      | not_documented
"""

[[examples]]
because = "a missing dose is not documented, a masked one unusable; a refusal removes a newborn only if it covers all that was missed"
given.admission = """
record_id   | weight_g | maternal_hepatitis_b
no_globulin | 3200     | positive
masked      | 3200     | positive
mixed       | 3200     | positive
declined    | 3200     | positive
one_no      | 3200     | positive
one_late    | 3200     | positive
then_given  | 3200     | positive
no_stock    | 3200     | positive
"""
given.dose = """
record_id   | kind                        | minutes | status  | reason   | unusable
no_globulin | hepatitis_b_vaccine         | 300     | given   |          |
masked      | hepatitis_b_vaccine         | 300     | given   |          |
masked      | hepatitis_b_immune_globulin |         | given   |          | minutes
mixed       | hepatitis_b_vaccine         | 300     | given   |          |
mixed       | hepatitis_b_immune_globulin |         | given   |          | minutes
mixed       | hepatitis_b_immune_globulin | 400     | given   |          |
declined    | hepatitis_b_vaccine         | 300     | refused |          |
declined    | hepatitis_b_immune_globulin | 300     | refused | declined |
one_no      | hepatitis_b_vaccine         | 300     | given   |          |
one_no      | hepatitis_b_immune_globulin | 300     | refused | declined |
one_late    | hepatitis_b_vaccine         | 721     | given   |          |
one_late    | hepatitis_b_immune_globulin | 300     | refused | declined |
then_given  | hepatitis_b_vaccine         | 300     | given   |          |
then_given  | hepatitis_b_immune_globulin | 300     | refused | declined |
then_given  | hepatitis_b_immune_globulin | 700     | given   |          |
no_stock    | hepatitis_b_vaccine         | 300     | given   |          |
no_stock    | hepatitis_b_immune_globulin | 300     | held    | no_stock |
"""
expect = """
record_id   | state          | reason
no_globulin | not_documented |
masked      | unusable       |
mixed       | met            |
declined    | exception      | declined
one_no      | exception      | declined
one_late    | not_done       | declined
then_given  | met            |
no_stock    | not_done       | no_stock
"""

[[examples]]
because = "standard exclusions; a newborn moved at 15 hours was due before"
given.admission = """
record_id    | maternal_hepatitis_b | live_birth | birth_place | discharge_minutes | disposition
still        | positive             | false      | birth_room  |                   |
died_at_200  | positive             | true       | birth_room  | 200               | died
moved_at_40  | positive             | true       | birth_room  | 40                | transfer
moved_at_900 | positive             | true       | birth_room  | 900               | transfer
elsewhere    | positive             | true       | other_site  |                   |
comfort      | positive             | true       | birth_room  |                   |
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
on_the_way  | before_arrival | 20              | 3000     | positive
way_untimed | before_arrival |                 | 3000     | positive
early       | other_site     | 359             | 3000     | positive
late        | other_site     | 360             | 3000     | positive
way_late    | before_arrival | 360             | 3000     | positive
untimed     | other_site     |                 | 3000     | positive
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
with one_site as (
    select
        newborn_id as newborn_id,
        coalesce(bool_or(is_at_one_site), false) as is_at_one_site,
    from hepatitis_b_pair
    group by newborn_id
)

select
    doses.newborn_id as newborn_id,
    -- Two doses in time but at one site are not explained by a refusal.
    if(doses.is_in_time_or_declined and doses.is_missed_declined, 'declined', null) as exception,
    doses.not_done_reason as not_done_reason,
    doses.is_documented as is_documented,
    doses.is_usable as is_usable,
    -- At one site is in no window, so that it is not met.
    if(one_site.is_at_one_site, null, doses.minutes) as minutes,
from hepatitis_b_both as doses
left join one_site on one_site.newborn_id = doses.newborn_id
where doses.mother = 'positive'
