/*
title = "Bands checked on leaving"
question = "Were the bands checked against the mother's when the newborn went home?"
also_called = ["identity", "wristband"]
group = "leaving"
kind = "proportion"
direction = "higher"
population = "Newborns born alive who went home."
numerator = "The check of the bands on leaving, at or before the minute of leaving."
anchor = "birth"
window_status = "local"
owner = "recorded"
exceptions = "None."
missing = "not_met"
sources = [
    "Local decision, no published value",
]
disagreement = "Some units check against a cord clamp or an electronic tag."
documentation_trap = "The check after birth is another care item (band_check). The time of leaving is often the time of the order."
caution = "This screens records."
balancing = ["two_bands"]
look_at = ["bands checked on leaving: time", "discharge: time"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "A check that is not on the record was mostly made."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "the minute of leaving counts, after it is late; who did not go home is not asked for"
given.admission = """
record_id | discharge_minutes | disposition | live_birth
at        | 3000              | home        | true
late      | 3000              | home        | true
no_row    | 3000              | home        | true
no_time   | 3000              | home        | true
not_done  | 3000              | home        | true
at_birth  | 3000              | home        | true
moved     | 3000              | transfer    | true
in_unit   |                   | in_unit     | true
still     | 3000              | home        | false
"""
given.care = """
record_id | kind               | minutes | status   | unusable
at        | band_check_leaving | 3000    | done     |
late      | band_check_leaving | 3001    | done     |
no_time   | band_check_leaving |         | done     | minutes
not_done  | band_check_leaving | 2990    | not_done |
at_birth  | band_check         | 10      | done     |
"""
expect = """
record_id | state          | minutes | reason
at        | met            | 3000    |
late      | late           | 3001    |
no_row    | not_documented |         |
no_time   | unusable       |         |
not_done  | not_done       |         | no reason recorded
at_birth  | not_documented |         |
still     | exclusion      |         | stillborn
"""
*/
select
    newborn_id as newborn_id,
    not_done_reason as not_done_reason,
    is_documented as is_documented,
    is_usable as is_usable,
    minutes as minutes,
    home_minutes as due_minutes,
from care_once
inner join went_home using (newborn_id)
where kind = 'band_check_leaving'
