/*
title = "Unplanned move to intensive care at term"
question = "How many born at term were moved to intensive care without a plan?"
also_called = ["NICU admission", "escalation"]
group = "the other side"
kind = "proportion"
direction = "lower"
population = "Newborns born alive in the unit at 37 weeks or more."
numerator = "A move to intensive care, not planned before birth, in the first 7 days."
anchor = "birth"
window = { at_least = 0, at_most = 10080 }
window_status = "local"
parameters = { no_row_is_none = false, term_from_weeks = 37 }
follows = { term_from_weeks = "cord_clamp_deferred" }
owner = "born_here"
exceptions = "None."
missing = "left_out"
sources = [
    "Local decision, no published value; 37 weeks as term: common usage",
]
disagreement = "What counts as intensive care differs between sites."
documentation_trap = "No row is read as none, but only where the unit's export has this kind of event for any newborn; where it has none at all the measure is silent. A unit that charts every event of the other side, and had none, sets no_row_is_none to true."
caution = "This screens records. Most moves are right: look at a rise, and at reasons, never at one newborn."
balancing = ["cord_clamp_deferred", "first_temperature"]
look_at = ["move to intensive care: time"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "It shows harm, and good watching, alike."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "minute 10080 counts, later not; before 37 weeks nobody is asked; no row beside others is none"
given.admission = """
record_id | gestational_age_days
at        | 259
after     | 280
preterm   | 258
unknown   |
none      | 280
no_time   | 280
not_done  | 280
"""
given.care = """
record_id | kind           | minutes | status   | unusable
at        | intensive_care | 10080   | done     |
after     | intensive_care | 10081   | done     |
preterm   | intensive_care | 60      | done     |
no_time   | intensive_care |         | done     | minutes
not_done  | intensive_care | 60      | not_done |
"""
expect = """
record_id | state    | minutes
at        | met      | 10080
after     | late     | 10081
none      | not_met  |
no_time   | unusable |
not_done  | not_met  |
"""

[[examples]]
because = "where the export has none at all nothing is known"
given.admission = """
record_id | gestational_age_days
one       | 280
"""
expect = """
record_id | state
one       | not_documented
"""

[[examples]]
because = "a unit that charts every one"
policy = { no_row_is_none = true }
given.admission = """
record_id | gestational_age_days
one       | 280
"""
expect = """
record_id | state
one       | not_met
"""

[[examples]]
because = "standard exclusions; the move itself counts"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition | gestational_age_days
still     | false      | birth_room  |                   |             | 280
died      | true       | birth_room  | 60                | died        | 280
moved     | true       | birth_room  | 60                | transfer    | 280
elsewhere | true       | other_site  |                   |             | 280
comfort   | true       | birth_room  |                   |             | 280
that_move | true       | birth_room  | 60                | transfer    | 280
"""
given.care = """
record_id | kind           | minutes | status
comfort   | comfort_care   | 5       | done
that_move | intensive_care | 60      | done
"""
expect = """
record_id | state
still     | exclusion
died      | exclusion
moved     | exception
elsewhere | exclusion
comfort   | exclusion
that_move | met
"""
*/
select
    newborn_id as newborn_id,
    is_documented as is_documented,
    is_usable as is_usable,
    minutes as minutes,
    minutes as closes_minutes,
from other_side
inner join mart.newborn using (newborn_id)
inner join setting using (newborn_id)
where event = 'intensive_care' and gestational_age_days >= term_from_weeks * 7
