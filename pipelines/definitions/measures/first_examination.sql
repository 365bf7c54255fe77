/*
title = "First full examination within a day"
question = "Did a provider examine the newborn from head to toe within 24 hours?"
also_called = ["physical examination"]
group = "screening"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 12 hours of age, who stayed at least 24 hours."
numerator = "A provider's full examination recorded as done inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 1440 }
window_status = "published in part"
parameters = { day_stay_minutes = 1440 }
owner = "born_here_or_arrived"
arrived_before = 720
exceptions = "None."
missing = "not_met"
sources = [
    "Within 24 hours of birth: AccessPediatrics, two textbooks",
    "Brought in before 12 hours: local decision, no published value",
]
disagreement = "Who counts as a provider differs: physician, nurse practitioner, midwife. The unit's file decides which entry it takes as the examination."
documentation_trap = "The nurse's admission examination is not the provider's. A note signed the next day may describe an examination done on the first."
caution = "This screens records. An examination in time may still miss a finding, and some findings show only later."
balancing = ["finding_escalated"]
look_at = ["examination: time, status"]
version = "1.1"

[gravity]
level = "serious"
why = "What is not looked for is not found before the newborn goes home."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 1440 still counts, minute 1441 is late; the first of several counts"
given.admission = """
record_id
at1440
at1441
twice
"""
given.care = """
record_id | kind        | minutes | status
at1440    | examination | 1440    | done
at1441    | examination | 1441    | done
twice     | examination | 600     | done
twice     | examination | 2000    | done
"""
expect = """
record_id | state | minutes
at1440    | met   | 1440
at1441    | late  | 1441
twice     | met   | 600
"""

[[examples]]
because = "no row is not documented; not done with or without a reason is not done; a masked time is unusable; a usable one beside it is taken"
given.admission = """
record_id
no_row
unstable
no_reason
then_done
masked
mixed
"""
given.care = """
record_id | kind        | minutes | status   | reason           | unusable
unstable  | examination | 600     | not_done | newborn_unstable |
no_reason | examination |         | not_done |                  |
then_done | examination | 600     | not_done | newborn_unstable |
then_done | examination | 900     | done     |                  |
masked    | examination |         | done     |                  | minutes
mixed     | examination |         | done     |                  | minutes
mixed     | examination | 700     | done     |                  |
"""
expect = """
record_id | state          | reason
no_row    | not_documented |
unstable  | not_done       | newborn_unstable
no_reason | not_done       | no reason recorded
then_done | met            |
masked    | unusable       |
mixed     | met            |
"""

[[examples]]
because = "a stay below 24 hours is out, examined or not; so are the standard exclusions"
given.admission = """
record_id    | live_birth | birth_place | discharge_minutes | disposition
home_at_1439 | true       | birth_room  | 1439              | home
home_at_1440 | true       | birth_room  | 1440              | home
still        | false      | birth_room  |                   |
died_at_900  | true       | birth_room  | 900               | died
moved_at_900 | true       | birth_room  | 900               | transfer
elsewhere    | true       | other_site  |                   |
comfort      | true       | birth_room  |                   |
"""
given.care = """
record_id    | kind         | minutes | status
home_at_1439 | examination  | 600     | done
comfort      | comfort_care | 5       | done
"""
expect = """
record_id    | state          | reason
home_at_1439 | exclusion      | stayed less than 24 hours
home_at_1440 | not_documented |
still        | exclusion      | stillborn
died_at_900  | exclusion      | died before the window closed
moved_at_900 | exception      | moved before the window closed
elsewhere    | exclusion      | arrival not known
comfort      | exclusion      | comfort care before the window closed
"""

[[examples]]
because = "born on the way is owed it here, and so is one brought in before 12 hours; later, or nobody knows when, it is not"
given.admission = """
record_id   | birth_place    | arrival_minutes
on_the_way  | before_arrival | 20
way_untimed | before_arrival |
early       | other_site     | 719
late        | other_site     | 720
way_late    | before_arrival | 720
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
*/
select
    examination.newborn_id as newborn_id,
    if(
        way.home_minutes < setting.day_stay_minutes, 'stayed less than 24 hours', null
    ) as exclusion,
    examination.not_done_reason as not_done_reason,
    examination.is_documented as is_documented,
    examination.is_usable as is_usable,
    examination.minutes as minutes,
from care_once as examination
inner join setting on setting.newborn_id = examination.newborn_id
inner join mart.way as way on way.newborn_id = examination.newborn_id
where examination.kind = 'examination'
