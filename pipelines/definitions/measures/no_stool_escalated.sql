/*
title = "No stool by 48 hours, provider told"
question = "Where no stool had been recorded by 48 hours, was a provider told?"
group = "telling the provider"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit who were still there 48 hours after birth and for whom no stool by then is on the record. Who left and nobody wrote when is taken as still there; a move then ends it."
numerator = "A provider was told, no later than 2 hours after the limit."
anchor = "the limit, 48 hours after birth"
window = { at_least = 0, at_most = 120 }
window_status = "local"
parameters = { stool_limit_minutes = 2880 }
owner = "born_here"
going_home = "ends"
exceptions = "None. A newborn with a stoma, surgery or a catheter is not told apart by this record."
missing = "not_met"
sources = [
    "Limit of 48 hours and 2 hours to tell: local decision, no published value",
    "Pediatrics in Review, 1994: almost all term newborns had a stool by 48 hours",
]
disagreement = "Units set the limit at 24 or 48 hours: set stool_limit_minutes. Telling before the limit counts."
documentation_trap = "A stool nobody charted puts a healthy newborn here, and nobody was told because nothing was wrong: read each record before the rate. Whom the nurse told stands in the record as the finding no_stool. Where an export has no stool at all, switch the measure off for the unit (applies = false)."
caution = "This screens records. It asks whether somebody was told, not what the stool means; most of these newborns are well."
balancing = ["first_stool"]
look_at = ["first stool: time", "finding: no stool, whom the nurse told and when"]
version = "1.1"

[gravity]
level = "serious"
why = "What nobody was told of nobody acts on."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "a stool at the limit is in time and one minute later is not; told 120 minutes after the limit counts, 121 is late; told before counts"
given.admission = """
record_id
in_time
told_120
told_121
told_early
no_row
"""
given.care = """
record_id  | kind        | minutes | status
in_time    | first_stool | 2880    | done
told_120   | first_stool | 2881    | done
told_121   | first_stool | 3380    | done
told_early | first_stool | 2880    | not_done
"""
given.finding = """
record_id  | kind     | minutes | as_expected | told_role     | told_minutes
told_120   | no_stool | 2880    | false       | paediatrician | 3000
told_121   | no_stool | 2880    | false       | paediatrician | 3001
told_early | no_stool | 2820    | false       | paediatrician | 2850
"""
expect = """
record_id  | state          | minutes
told_120   | met            | 120
told_121   | late           | 121
told_early | met            | 0
no_row     | not_documented |
"""

[[examples]]
because = "a stool without a believable time cannot be placed and is unusable, unless somebody was told; a role without its time is unusable; nobody named is not documented"
given.admission = """
record_id
no_time
no_time_told
role_only
masked
nobody
mixed
"""
given.care = """
record_id    | kind        | minutes | status | unusable
no_time      | first_stool |         | done   | minutes
no_time_told | first_stool |         | done   | minutes
mixed        | first_stool |         | done   | minutes
mixed        | first_stool | 2870    | done   |
"""
given.finding = """
record_id    | kind     | minutes | as_expected | told_role     | told_minutes | unusable
no_time_told | no_stool | 2880    | false       | paediatrician | 2910         |
role_only    | no_stool | 2880    | false       | paediatrician |              |
masked       | no_stool | 2880    | false       |               |              | told_minutes
nobody       | no_stool | 2880    | false       |               |              |
"""
expect = """
record_id    | state
no_time      | unusable
no_time_told | met
role_only    | unusable
masked       | unusable
nobody       | not_documented
"""

[[examples]]
because = "gone home by the limit is not in the population; the standard exclusions hold until the window closed"
given.admission = """
record_id   | live_birth | birth_place | discharge_minutes | disposition
home_at     | true       | birth_room  | 2880              | home
home_after  | true       | birth_room  | 2881              | home
still       | false      | birth_room  |                   |
died        | true       | birth_room  | 2980              | died
moved       | true       | birth_room  | 2999              | transfer
moved_after | true       | birth_room  | 3000              | transfer
elsewhere   | true       | other_site  |                   |
comfort     | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id   | state
home_after  | exception
still       | exclusion
died        | exclusion
moved       | exception
moved_after | not_documented
elsewhere   | exclusion
comfort     | exclusion
"""
*/
select
    nothing_came.* exclude (kind, until_minutes),
    if(judged_minutes < stool_limit_minutes, 0, judged_minutes - stool_limit_minutes) as minutes,
    stool_limit_minutes + at_most as closes_minutes,
from nothing_came
inner join setting using (newborn_id)
where kind = 'no_stool' and coalesce(until_minutes > stool_limit_minutes, true)
