/*
title = "Both Apgar totals recorded"
question = "Are the Apgar totals at 1 and at 5 minutes both on the record?"
group = "first observations"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit."
numerator = "The totals at 1 and at 5 minutes are both recorded, each a whole number from 0 to 10."
anchor = "birth; the nominal minute of the score, not the time of charting"
window_status = "published"
owner = "born_here"
exceptions = "None."
missing = "not_met"
sources = ["AAP and ACOG, Pediatrics, 2015: report at 1 and 5 minutes for every newborn"]
disagreement = "Scores of births outside the unit are left to the unit of birth here; some count them."
documentation_trap = "A system may store 0 for a score that was never entered: two zeros beside a normal heart rate deserve a look. The components are not in the record, so their sum is not checked. Births the unit did not attend are out."
caution = "This screens records. A recorded score says nothing about its quality: watch whether all scores drift to 9. Scores do not predict an outcome for one newborn."
balancing = ["size_triad"]
look_at = ["admission: Apgar at 1 and at 5 minutes"]
version = "1.1"

[gravity]
level = "process"
why = "A score missing from the record is a gap of the record."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "both present is met, zero is a score; one missing is not documented; one out of limits is unusable"
given.admission = """
record_id   | apgar_1 | apgar_5 | unusable
both        | 8       | 9       |
edges       | 0       | 10      |
no_first    |         | 9       |
no_second   | 8       |         |
neither     |         |         |
bad_second  | 8       |         | apgar_5
bad_both    |         |         | apgar_1, apgar_5
bad_missing |         |         | apgar_1
"""
expect = """
record_id   | state
both        | met
edges       | met
no_first    | not_documented
no_second   | not_documented
neither     | not_documented
bad_second  | unusable
bad_both    | unusable
bad_missing | not_documented
"""

[[examples]]
because = "standard exclusions hold up to the fifth minute; a newborn moved at 40 minutes was there to be scored"
given.admission = """
record_id   | live_birth | birth_place    | apgar_1 | apgar_5 | discharge_minutes | disposition
still       | false      | birth_room     | 0       | 0       |                   |
died_at_3   | true       | birth_room     | 1       |         | 3                 | died
died_at_30  | true       | birth_room     | 1       | 1       | 30                | died
moved_at_40 | true       | birth_room     | 8       | 9       | 40                | transfer
elsewhere   | true       | other_site     | 8       | 9       |                   |
on_the_way  | true       | before_arrival |         | 9       |                   |
comfort     | true       | birth_room     |         |         |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 0       | done
"""
expect = """
record_id   | state
still       | exclusion
died_at_3   | exclusion
died_at_30  | met
moved_at_40 | met
elsewhere   | exclusion
on_the_way  | exclusion
comfort     | exclusion
"""
*/
select
    newborn_id as newborn_id,
    (apgar_1 is not null or coalesce(list_contains(unusable, 'apgar_1'), false))
    and (apgar_5 is not null or coalesce(list_contains(unusable, 'apgar_5'), false))
        as is_documented,
    apgar_1 is not null and apgar_5 is not null as is_usable,
    apgar_1 is not null and apgar_5 is not null as is_met,
    5 as closes_minutes,
    if(is_met, 5, null) as judged_minutes,
from mart.newborn
