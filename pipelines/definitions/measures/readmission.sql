/*
title = "Admitted again within 7 days of leaving"
question = "How many who went home came back and were admitted?"
also_called = ["return", "rehospitalisation"]
group = "the other side"
kind = "proportion"
direction = "lower"
population = "Newborns born alive who went home."
numerator = "Admitted again no later than 7 days after leaving."
anchor = "leaving"
window = { at_least = 0, at_most = 10080 }
window_status = "local"
parameters = { no_row_is_none = false }
follows = { no_row_is_none = "intensive_care_at_term" }
owner = "recorded"
exceptions = "None."
missing = "left_out"
sources = [
    "7 days after leaving: local decision; 28 or 30 days are common too, no published source",
]
disagreement = "Some count 28 days after birth, some visits without admission."
documentation_trap = "No row is read as none, but only where the unit's export has this kind of event for any newborn; where it has none at all the measure is silent. A unit that charts every such event, and had none, sets no_row_is_none to true under intensive_care_at_term. Admissions elsewhere are not seen, and those of the last week of an export have not come yet."
caution = "This screens records. Some of these newborns rightly came back."
balancing = ["early_leaving_set", "bilirubin_before_leaving"]
look_at = ["readmission: time", "discharge: time"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "A rise says that something was not seen before leaving."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "7 days after leaving counts, later not; who did not go home is not asked for"
given.admission = """
record_id | discharge_minutes | disposition | live_birth
at        | 3000              | home        | true
after     | 3000              | home        | true
none      | 3000              | home        | true
no_time   | 3000              | home        | true
moved     | 3000              | transfer    | true
in_unit   |                   | in_unit     | true
still     | 3000              | home        | false
before    | 3000              | home        | true
"""
given.care = """
record_id | kind        | minutes | status | unusable
at        | readmission | 13080   | done   |
after     | readmission | 13081   | done   |
no_time   | readmission |         | done   | minutes
moved     | readmission | 4000    | done   |
before    | readmission | 2999    | done   |
"""
expect = """
record_id | state     | minutes
at        | met       | 10080
after     | late      | 10081
none      | not_met   |
no_time   | unusable  |
still     | exclusion |
before    | not_met   | -1
"""

[[examples]]
because = "where the export has none at all nothing is known"
given.admission = """
record_id | discharge_minutes | disposition
one       | 3000              | home
"""
expect = """
record_id | state
one       | not_documented
"""
*/
select
    newborn_id as newborn_id,
    is_documented as is_documented,
    is_usable as is_usable,
    minutes - home_minutes as minutes,
from other_side
inner join went_home using (newborn_id)
where event = 'readmission'
