/*
title = "Hepatitis B vaccine of a small newborn, mother negative"
question = "Did a newborn below 2000 g of a negative mother get the vaccine by one month of age or at discharge?"
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 6 hours of age, below 2000 g whose mother was known to be negative by 12 hours."
numerator = "Hepatitis B vaccine recorded as given into a muscle by 30 days after birth or by discharge, whichever came first."
anchor = "birth; the mother's status is read once, at 12 hours"
window = { at_least = 0, at_most = 43200 }
window_status = "published in part"
parameters = { status_read_minutes = 720, small_below_g = 2000, blank_route_counts = true }
follows = { arrived_before = "hepatitis_b_birth_dose", status_read_minutes = "hepatitis_b_birth_dose", small_below_g = "hepatitis_b_birth_dose", blank_route_counts = "hepatitis_b_birth_dose" }
population_needs = ["admission.maternal_hepatitis_b", "admission.weight_g"]
owner = "born_here_or_arrived"
arrived_before = 360
exceptions = "Declined by the family."
missing = "not_met"
sources = [
    "ACIP, MMWR, 2018: below 2000 g at one month of age or at discharge, whichever is first",
    "One month as 30 days, and when the mother's status is read (12 hours): local decision, no published value",
    "Brought in before 6 hours: local decision, no published value",
]
disagreement = "A dose in the first days is not counted in the series at this weight by some; here every dose up to the last day counts, and a unit may set at_least. The change of policy since December 2025 may touch these newborns too: the unit decides, and may switch the measure off."
documentation_trap = "A newborn still in the unit without the vaccine is not yet due and is excluded, unless the export holds births so much later that the dose must have been due: then the vaccine is missing, or the record was never closed. A vaccine given elsewhere is not in this record."
caution = "This screens records and advises no care. Few newborns belong here: read records, not rates."
balancing = ["hepatitis_b_decision"]
look_at = ["hepatitis B vaccine: time, status, reason", "admission: weight, mother's hepatitis B status"]
version = "1.1"

[gravity]
level = "serious"
why = "A dose put off for a small newborn is easily never given."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

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
moved_at_900 | exception
elsewhere    | exclusion
comfort      | exclusion
"""

[[examples]]
because = "born on the way is owed it here, and so is one brought in before 6 hours; later, or nobody knows when, it is not"
given.admission = """
record_id   | birth_place    | arrival_minutes | weight_g | maternal_hepatitis_b
on_the_way  | before_arrival | 20              | 1900     | negative
way_untimed | before_arrival |                 | 1900     | negative
early       | other_site     | 359             | 1900     | negative
late        | other_site     | 360             | 1900     | negative
way_late    | before_arrival | 360             | 1900     | negative
untimed     | other_site     |                 | 1900     | negative
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
because = "still in the unit: not yet due while the newborn may be younger than the window; once births of much later months are in the export, the dose is missing"
given.admission = """
record_id | birth_month | weight_g | maternal_hepatitis_b | disposition
old       | 2025-01-01  | 1900     | negative             | in_unit
old_given | 2025-01-01  | 1900     | negative             | in_unit
young     | 2025-02-01  | 1900     | negative             | in_unit
newest    | 2025-04-01  | 1900     | negative             | in_unit
"""
given.dose = """
record_id | kind                | minutes | status
old_given | hepatitis_b_vaccine | 30000   | given
"""
expect = """
record_id | state          | reason
old       | not_documented |
old_given | met            |
young     | not_documented |
newest    | exclusion      | still in the unit, not yet due
"""
*/
with ages as (
    select
        newborn_id as newborn_id,
        -- Of the export: it holds births of later months, so this newborn is at least so old.
        1440 * date_diff(
            'day',
            birth_month + interval 1 month,
            max(if(newborn_id > 0, birth_month, null)) over (partition by unit)
        ) as least_age_minutes,
    from mart.newborn
)

select
    newborn.newborn_id as newborn_id,
    if(
        newborn.disposition = 'in_unit'
        and not vaccine.is_given
        and not coalesce(ages.least_age_minutes >= setting.at_most, false),
        'still in the unit, not yet due',
        null
    ) as exclusion,
    if(vaccine.is_declined, 'declined', null) as exception,
    vaccine.not_done_reason as not_done_reason,
    vaccine.has_row as is_documented,
    vaccine.is_clear as is_usable,
    vaccine.given_minutes as minutes,
    least(setting.at_most, coalesce(way.home_minutes, setting.at_most)) as due_minutes,
    setting.at_most as closes_minutes,
from hepatitis_b_agent as vaccine
inner join mart.newborn as newborn on newborn.newborn_id = vaccine.newborn_id
inner join ages on ages.newborn_id = vaccine.newborn_id
inner join mart.way as way on way.newborn_id = vaccine.newborn_id
inner join setting on setting.newborn_id = vaccine.newborn_id
where
    vaccine.kind = 'hepatitis_b_vaccine'
    and vaccine.mother = 'negative'
    and vaccine.weight_g < setting.small_below_g
