/*
title = "Low glucose ended"
question = "After a low glucose, was one at or above the limit reached in time?"
also_called = ["hypoglycaemia", "hypoglycemia", "blood sugar"]
group = "screening"
kind = "episode"
direction = "higher"
population = "Episodes of low glucose of newborns born alive: from a reading below the unit's limit, where the one before was not."
numerator = "A reading at or above the limit no later than 4 hours after the low one."
anchor = "the low reading"
window = { at_least = 0, at_most = 240 }
window_status = "local"
parameters = { low_below_mg_dl = 45 }
follows = { low_below_mg_dl = "low_glucose_rechecked" }
owner = "present"
going_home = "ends"
exceptions = "None."
missing = "not_met"
sources = [
    "4 hours: local decision, no published value",
]
disagreement = "Units differ in what ends an episode: one reading, or two in a row. One is asked here."
documentation_trap = "No further reading is not documented, and says nothing of how it ended. A lower reading between does not begin another episode."
caution = "This screens records and never says how a low glucose is treated."
balancing = ["first_feed_formula", "heel_pricks"]
look_at = ["glucose: each time and value"]
version = "1.0"

[gravity]
level = "serious"
why = "A low glucose that lasts can do lasting damage."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "the first reading at the limit ends it: 240 minutes later counts, 241 is late; still low is not met"
given.admission = """
record_id
at240
at241
still_low
lower
"""
given.observation = """
record_id | kind    | minutes | value
at240     | glucose | 90      | 44
at240     | glucose | 120     | 40
at240     | glucose | 330     | 45
at241     | glucose | 90      | 44
at241     | glucose | 331     | 60
still_low | glucose | 90      | 44
still_low | glucose | 150     | 44
lower     | glucose | 90      | 44
lower     | glucose | 100     | 30
lower     | glucose | 130     | 60
"""
expect = """
record_id | item | state   | minutes
at240     | 1    | met     | 240
at241     | 1    | late    | 241
still_low | 1    | not_met |
lower     | 1    | met     | 40
"""

[[examples]]
because = "nothing more, one that cannot be believed, and who moved"
given.admission = """
record_id   | discharge_minutes | disposition
alone       |                   |
bad         |                   |
moved       | 300               | transfer
moved_later | 330               | transfer
"""
given.observation = """
record_id   | kind    | minutes | value | unusable
alone       | glucose | 90      | 44    |
bad         | glucose | 90      | 44    |
bad         | glucose | 120     |       | value
moved       | glucose | 90      | 44    |
moved_later | glucose | 90      | 44    |
"""
expect = """
record_id   | item | state          | reason
alone       | 1    | not_documented |
bad         | 1    | unusable       |
moved       | 1    | exception      | moved before the window closed
moved_later | 1    | not_documented |
"""

[[examples]]
because = "a stillborn, a death before the window closed and comfort care are set apart"
given.admission = """
record_id | live_birth | discharge_minutes | disposition
still     | false      |                   |
died      | true       | 200               | died
comfort   | true       |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
given.observation = """
record_id | kind    | minutes | value
still     | glucose | 30      | 30
died      | glucose | 30      | 30
comfort   | glucose | 30      | 30
"""
expect = """
record_id | item | state
still     | 1    | exclusion
died      | 1    | exclusion
comfort   | 1    | exclusion
"""
*/
select
    newborn_id as newborn_id,
    item as item,
    is_documented as is_documented,
    is_usable as is_usable,
    ended_minutes - began_minutes as minutes,
    closes_minutes as closes_minutes,
    ended_minutes as judged_minutes,
    began_mg_dl as value,
    began_minutes as value_minutes,
    edge_mg_dl as edge,
from low_glucose
