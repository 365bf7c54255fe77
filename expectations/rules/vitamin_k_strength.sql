/*
title       = "Vitamin K of adult strength"
table       = "dose"
severity    = "query"
explanation = "The product is recorded as the adult presentation. It may have been scanned or chosen wrongly, or given so: look it up now, for it may have to be reported."
sources     = ["newborns are given the newborn presentation: common practice, no published source"]
# A query, not an error: if it truly happened, the record is right and must stay.

[[examples]]
because = "an adult presentation given to a newborn"
given.dose = """
record_id | kind      | status | strength
a         | vitamin_k | given  | adult
"""
expect = """
record_id | column_name | severity
a         | strength    | query
"""

[[examples]]
because = "the newborn presentation, a blank, and what was not given are left alone"
given.dose = """
record_id | kind      | status  | strength
usual     | vitamin_k | given   | newborn
blank     | vitamin_k | given   |
declined  | vitamin_k | refused | adult
"""
expect = """
record_id | column_name
"""
*/
select
    row_id,
    'strength' as column_name,
from typed.dose
where kind = 'vitamin_k' and strength = 'adult' and coalesce(status, 'given') = 'given'
