/*
title = "Low glucose checked again"
question = "After a low glucose, was it checked again in time?"
also_called = ["hypoglycaemia", "hypoglycemia", "blood sugar"]
group = "screening"
kind = "episode"
direction = "higher"
population = "Episodes of low glucose of newborns born alive: from a reading below the unit's limit, 45 mg/dL unless set, where the one before was not."
numerator = "The next reading no later than 60 minutes after the low one."
anchor = "the low reading"
window = { at_least = 0, at_most = 60 }
window_status = "local"
parameters = { low_below_mg_dl = 45 }
owner = "present"
going_home = "ends"
exceptions = "None."
missing = "not_met"
sources = [
    "60 minutes: local decision, no published value",
    "45 mg/dL: local decision; texts teach 40 or 45 and no single value is agreed (Pediatrics 127:575, 2011)",
]
disagreement = "Limits differ by society, age in hours and symptoms: set low_below_mg_dl as your unit acts."
documentation_trap = "Two readings of one minute are one, the lower. A laboratory value sent later stands at its own time."
caution = "This screens records. The limit says which records are looked at, not whom to treat."
balancing = ["low_glucose_ended", "heel_pricks"]
look_at = ["glucose: each time and value"]
version = "1.0"

[gravity]
level = "serious"
why = "A low glucose that nobody looks at again can go on, and do lasting damage."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "60 minutes later counts, 61 is late; nothing more is not documented; 45 is not low; each episode is a row of its own"
given.admission = """
record_id
at60
at61
alone
not_low
twice
"""
given.observation = """
record_id | kind    | minutes | value
at60      | glucose | 90      | 44
at60      | glucose | 150     | 50
at61      | glucose | 90      | 44
at61      | glucose | 151     | 50
alone     | glucose | 90      | 44
not_low   | glucose | 90      | 45
twice     | glucose | 90      | 40
twice     | glucose | 120     | 42
twice     | glucose | 150     | 60
twice     | glucose | 400     | 41
twice     | glucose | 500     | 60
"""
expect = """
record_id | item | state          | minutes
at60      | 1    | met            | 60
at61      | 1    | late           | 61
alone     | 1    | not_documented |
twice     | 1    | met            | 30
twice     | 2    | late           | 100
"""

[[examples]]
because = "a reading that cannot be believed is unusable; one of the same minute is no check; who moved before it was due is an exception"
given.admission = """
record_id   | discharge_minutes | disposition
bad         |                   |
no_time     |                   |
together    |                   |
moved       | 120               | transfer
moved_later | 151               | transfer
died        | 120               | died
died_later  | 151               | died
"""
given.observation = """
record_id   | kind    | minutes | value | unusable
bad         | glucose | 90      | 44    |
bad         | glucose | 120     |       | value
no_time     | glucose | 90      | 44    |
no_time     | glucose |         | 60    | minutes
together    | glucose | 90      | 44    |
together    | glucose | 90      | 60    |
moved       | glucose | 90      | 44    |
moved_later | glucose | 90      | 44    |
died        | glucose | 90      | 44    |
died_later  | glucose | 90      | 44    |
"""
expect = """
record_id   | item | state          | reason
bad         | 1    | unusable       |
no_time     | 1    | unusable       |
together    | 1    | not_documented |
moved       | 1    | exception      | moved before the window closed
moved_later | 1    | not_documented |
died        | 1    | exclusion      | died before the window closed
died_later  | 1    | not_documented |
"""

[[examples]]
because = "a stillborn and comfort care are set apart; a unit may set the limit"
policy = { low_below_mg_dl = 40 }
given.admission = """
record_id | live_birth
still     | false
comfort   | true
at39      | true
at40      | true
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
given.observation = """
record_id | kind    | minutes | value
still     | glucose | 30      | 30
comfort   | glucose | 30      | 30
at39      | glucose | 30      | 39
at40      | glucose | 30      | 40
"""
expect = """
record_id | item | state
still     | 1    | exclusion
comfort   | 1    | exclusion
at39      | 1    | not_documented
"""
*/
select
    newborn_id as newborn_id,
    item as item,
    is_documented as is_documented,
    is_usable as is_usable,
    next_minutes - began_minutes as minutes,
    closes_minutes as closes_minutes,
    next_minutes as judged_minutes,
    began_mg_dl as value,
    began_minutes as value_minutes,
    edge_mg_dl as edge,
from low_glucose
