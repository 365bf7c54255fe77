/*
title = "Phototherapy"
question = "How many newborns were put under phototherapy?"
also_called = ["jaundice"]
group = "the other side"
kind = "descriptive"
direction = "neither"
population = "Newborns born alive in the unit."
numerator = "Phototherapy begun in the first 14 days."
anchor = "birth"
window = { at_least = 0, at_most = 20160 }
window_status = "local"
parameters = { no_row_is_none = false }
follows = { no_row_is_none = "intensive_care_at_term" }
owner = "born_here"
exceptions = "None."
missing = "left_out"
sources = [
    "Local decision, no published value",
]
disagreement = "Thresholds differ between guidelines and move the share."
documentation_trap = "No row is read as none, but only where the unit's export has this kind of event for any newborn; where it has none at all the measure is silent. A unit that charts every such event, and had none, sets no_row_is_none to true under intensive_care_at_term."
caution = "This screens records and describes: more can mean better looking."
balancing = ["bilirubin_before_leaving", "cord_clamp_deferred"]
look_at = ["phototherapy: start"]
version = "1.0"

[gravity]
level = "descriptive"
why = "No share is right."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "minute 20160 counts; no row beside others is none"
given.admission = """
record_id
at
after
none
no_time
"""
given.care = """
record_id | kind         | minutes | status | unusable
at        | phototherapy | 20160   | done   |
after     | phototherapy | 20161   | done   |
no_time   | phototherapy |         | done   | minutes
"""
expect = """
record_id | state    | minutes
at        | met      | 20160
after     | late     | 20161
none      | not_met  |
no_time   | unusable |
"""

[[examples]]
because = "where the export has none at all nothing is known"
given.admission = """
record_id
one
"""
expect = """
record_id | state
one       | not_documented
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition
still     | false      | birth_room  |                   |
died      | true       | birth_room  | 60                | died
moved     | true       | birth_room  | 60                | transfer
elsewhere | true       | other_site  |                   |
comfort   | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id | state     | reason
still     | exclusion | stillborn
died      | exclusion | died before the window closed
moved     | exception | moved before the window closed
elsewhere | exclusion | born elsewhere
comfort   | exclusion | comfort care before the window closed
"""
*/
select
    newborn_id as newborn_id,
    is_documented as is_documented,
    is_usable as is_usable,
    minutes as minutes,
    minutes as closes_minutes,
from other_side
where event = 'phototherapy'
