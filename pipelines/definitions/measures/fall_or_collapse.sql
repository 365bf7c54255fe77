/*
title = "Fall, or collapse"
question = "Did a newborn fall, or collapse unexpectedly in skin contact or at the breast?"
also_called = ["drop", "sudden unexpected postnatal collapse", "SUPC"]
group = "the other side"
kind = "proportion"
direction = "lower"
population = "Newborns born alive."
numerator = "A fall or a collapse in the first 28 days."
anchor = "birth"
window = { at_least = 0, at_most = 40320 }
window_status = "local"
parameters = { no_row_is_none = false }
follows = { no_row_is_none = "intensive_care_at_term" }
owner = "recorded"
exceptions = "None."
missing = "left_out"
sources = [
    "AAP, Pediatrics 138(3):e20161889, 2016 (from memory): both are known harms of contact and shared rooms that nobody watches",
    "28 days: local decision",
]
disagreement = "Units differ in whether a fall without injury is charted."
documentation_trap = "No row is read as none, but only where the unit's export has this kind of event for any newborn; where it has none at all the measure is silent. A unit that charts every such event, and had none, sets no_row_is_none to true under intensive_care_at_term. Falls are told in another system and seldom charted."
caution = "This screens records. A person reads each: what happened, and what helps."
balancing = ["skin_contact_sustained", "safe_sleep"]
look_at = ["fall, collapse: time"]
version = "1.0"

[gravity]
level = "serious"
why = "Each one is looked into, whatever came of it."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "a fall and a collapse each count, the first one; minute 40320 counts"
given.admission = """
record_id | live_birth
fall      | true
collapse  | true
both      | true
after     | true
none      | true
no_time   | true
still     | false
"""
given.care = """
record_id | kind     | minutes | status | unusable
fall      | fall     | 40320   | done   |
collapse  | collapse | 90      | done   |
both      | collapse | 90      | done   |
both      | fall     | 60      | done   |
after     | fall     | 40321   | done   |
no_time   | fall     |         | done   | minutes
"""
expect = """
record_id | state     | minutes
fall      | met       | 40320
collapse  | met       | 90
both      | met       | 60
after     | late      | 40321
none      | not_met   |
no_time   | unusable  |
still     | exclusion |
"""

[[examples]]
because = "where the export has neither at all nothing is known"
given.admission = """
record_id
one
"""
expect = """
record_id | state
one       | not_documented
"""

[[examples]]
because = "one kind is enough"
given.admission = """
record_id
one
other
"""
given.care = """
record_id | kind | minutes | status
other     | fall | 60      | done
"""
expect = """
record_id | state
one       | not_met
other     | met
"""
*/
select
    newborn_id as newborn_id,
    is_documented as is_documented,
    is_usable as is_usable,
    minutes as minutes,
    minutes as closes_minutes,
from other_side
where event = 'fall_or_collapse'
