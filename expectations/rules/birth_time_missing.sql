/*
title = "The time of birth is blank"
table = "admission"
severity = "error"
explanation = "Without a birth time (or month) no time of this newborn can be placed, and the newborn is in no month. The field was left blank, or the export dropped it."

[[examples]]
because = "a blank birth is found; one that cannot be read is another matter"
given.admission = """
record_id | birth_month | unreadable
known     | 2025-03-01  |
blank     |             |
unclear   |             | birth_time
"""
expect = """
record_id | column_name
blank     | birth_month
"""

[[examples]]
because = "a known month is left alone"
given.admission = """
record_id | birth_month
known     | 2025-03-01
"""
expect = """
record_id | column_name
"""
*/
select
    row_id,
    'birth_month' as column_name,
    'Look up the time of birth and export again.' as suggestion,
from typed.admission
where
    birth_month is null
    and not coalesce(list_has_any(unreadable, ['birth_time', 'birth_month']), false)
