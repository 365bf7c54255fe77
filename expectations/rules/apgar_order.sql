/*
title       = "Apgar at 5 minutes well below that at 1 minute"
table       = "admission"
severity    = "query"
explanation = "The score at 5 minutes is more than a point below that at 1 minute. The two may have been entered in each other's place; some newborns do get worse. Check both."
sources     = ["a fall by more than one point: our own limit, common practice, no published source; some newborns do get worse, so a query, never an error"]

[parameters]
falls_by_more_than = 1

[[examples]]
because = "9 then 7 is found; 9 then 8 happens and is left alone"
given.admission = """
record_id | apgar_1 | apgar_5
swapped   | 9       | 7
one_less  | 9       | 8
"""
expect = """
record_id | column_name | severity
swapped   | apgar_1     | query
swapped   | apgar_5     | query
"""

[[examples]]
because = "a rising score, one score alone, and a score that is no Apgar are left alone"
given.admission = """
record_id | apgar_1 | apgar_5
rising    | 7       | 9
alone     | 9       |
no_score  | 99      | 9
"""
expect = """
record_id | column_name
"""
*/
with fallen as (
    select newborn.row_id
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    where
        newborn.apgar_1 between 0 and 10
        and newborn.apgar_5 between 0 and 10
        and newborn.apgar_5 < newborn.apgar_1 - setting.falls_by_more_than
)

select
    row_id,
    unnest(['apgar_1', 'apgar_5']) as column_name,
from fallen
