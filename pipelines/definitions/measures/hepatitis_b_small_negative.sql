/*
title = "Hepatitis B vaccine of a small newborn, mother negative"
question = "Did a newborn below 2000 g of a negative mother get the vaccine by one month of age or at discharge?"
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit below 2000 g whose mother was known to be negative by 12 hours."
numerator = "Hepatitis B vaccine recorded as given into a muscle by 30 days after birth or by discharge, whichever came first."
anchor = "birth; the mother's status is read once, at 12 hours"
window = { at_least = 0, at_most = 43200 }
window_status = "published in part"
parameters = { status_read_minutes = 720, small_below_g = 2000, blank_route_counts = true }
follows = { status_read_minutes = "hepatitis_b_birth_dose", small_below_g = "hepatitis_b_birth_dose", blank_route_counts = "hepatitis_b_birth_dose" }
exclude = ["stillborn", "died", "comfort_care", "transferred", "born_elsewhere"]
exceptions = "Declined by the family."
missing = "not_met"
sources = [
    "ACIP, MMWR, 2018: below 2000 g at one month of age or at discharge, whichever is first",
    "One month as 30 days, and when the mother's status is read (12 hours): local decision, no published value",
]
disagreement = "A dose in the first days is not counted in the series at this weight by some; here every dose up to the last day counts, and a unit may set at_least. The change of policy since December 2025 may touch these newborns too: the unit decides, and may switch the measure off."
documentation_trap = "A newborn still in the unit without the vaccine is not yet due and is excluded; a record that was never closed looks like one. A vaccine given elsewhere is not in this record."
caution = "This screens records and advises no care. Few newborns belong here: read records, not rates."
balancing = ["hepatitis_b_decision"]
look_at = ["hepatitis B vaccine: time, status, reason", "admission: weight, mother's hepatitis B status"]
version = "1.0"

[gravity]
level = "serious"
why = "A dose put off for a small newborn is easily never given."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[examples]]
because = "the minute of discharge still counts, the next is late; so does day 30; 1999 g belongs here, 2000 g does not"
given.admission = """
record_id  | weight_g | maternal_hepatitis_b | discharge_minutes | disposition
at_leaving | 1999     | negative             | 20000             | home
after      | 1500     | negative             | 20000             | home
day30      | 1500     | negative             | 60000             | home
day30_late | 1500     | negative             | 60000             | home
in_unit    | 1500     | negative             |                   | in_unit
at2000     | 2000     | negative             | 20000             | home
unknown    | 1500     | unknown              | 20000             | home
"""
given.dose = """
record_id  | kind                | minutes | status
at_leaving | hepatitis_b_vaccine | 20000   | given
after      | hepatitis_b_vaccine | 20001   | given
day30      | hepatitis_b_vaccine | 43200   | given
day30_late | hepatitis_b_vaccine | 43201   | given
in_unit    | hepatitis_b_vaccine | 30000   | given
"""
expect = """
record_id  | state | minutes
at_leaving | met   | 20000
after      | late  | 20001
day30      | met   | 43200
day30_late | late  | 43201
in_unit    | met   | 30000
"""

[[examples]]
because = "no row is not documented; declined is an exception unless given; another reason is not done; a masked time is unusable; still in the unit is not yet due"
given.admission = """
record_id  | weight_g | maternal_hepatitis_b | discharge_minutes | disposition
no_row     | 1500     | negative             | 20000             | home
declined   | 1500     | negative             | 20000             | home
then_given | 1500     | negative             | 20000             | home
put_off    | 1500     | negative             | 20000             | home
masked     | 1500     | negative             | 20000             | home
not_due    | 1500     | negative             |                   | in_unit
no_end     | 1500     | negative             |                   |
"""
given.dose = """
record_id  | kind                | minutes | status  | reason | unusable
declined   | hepatitis_b_vaccine | 300     | refused |        |
then_given | hepatitis_b_vaccine | 300     | refused |        |
then_given | hepatitis_b_vaccine | 900     | given   |        |
put_off    | hepatitis_b_vaccine | 300     | held    | later  |
masked     | hepatitis_b_vaccine |         | given   |        | minutes
not_due    | hepatitis_b_vaccine | 300     | held    | later  |
"""
expect = """
record_id  | state          | reason
no_row     | not_documented |
declined   | exception      | declined
then_given | met            |
put_off    | not_done       | later
masked     | unusable       |
not_due    | exclusion      | still in the unit, not yet due
no_end     | not_documented |
"""

[[examples]]
because = "standard exclusions hold until the dose was due"
given.admission = """
record_id    | weight_g | maternal_hepatitis_b | live_birth | birth_place | discharge_minutes | disposition
still        | 1500     | negative             | false      | birth_room  |                   |
died_late    | 1500     | negative             | true       | birth_room  | 40000             | died
moved_at_900 | 1500     | negative             | true       | birth_room  | 900               | transfer
elsewhere    | 1500     | negative             | true       | other_site  | 20000             | home
comfort      | 1500     | negative             | true       | birth_room  | 20000             | home
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id    | state
still        | exclusion
died_late    | exclusion
moved_at_900 | exclusion
elsewhere    | exclusion
comfort      | exclusion
"""
*/
select
    newborn.newborn_id as newborn_id,
    if(
        newborn.disposition = 'in_unit' and not vaccine.is_given,
        'still in the unit, not yet due',
        null
    ) as exclusion,
    if(vaccine.is_declined, 'declined', null) as exception,
    vaccine.not_done_reason as not_done_reason,
    vaccine.has_row as is_documented,
    vaccine.is_clear as is_usable,
    vaccine.given_minutes as minutes,
    least(setting.at_most, coalesce(newborn.discharge_minutes, setting.at_most)) as due_minutes,
    setting.at_most as closes_minutes,
from hepatitis_b_agent as vaccine
inner join mart.newborn as newborn on newborn.newborn_id = vaccine.newborn_id
inner join setting on setting.newborn_id = vaccine.newborn_id
where
    vaccine.kind = 'hepatitis_b_vaccine'
    and vaccine.mother = 'negative'
    and vaccine.weight_g < setting.small_below_g
