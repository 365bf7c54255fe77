/*
title       = "A score at birth that does not fit what was done"
table       = "admission"
severity    = "query"
explanation = "Chest compressions are recorded beside high scores at 1 and 5 minutes. One of them is wrong or stands on the wrong line: check all three."
sources     = ["scores of 8 or more are given to newborns who breathe, cry and move well: common practice, no published source"]
# A fall from 9 to 2 is found by apgar_order.

[parameters]
high_score = 8

[[examples]]
because = "compressions beside 9 and 9; a unit may ask for 7 and 7 too"
numbers = { high_score = 7 }
given.admission = """
record_id | live_birth | resuscitation | apgar_1 | apgar_5
nines     | true       | compressions  | 9       | 9
sevens    | true       | compressions  | 7       | 7
"""
expect = """
record_id | column_name   | severity
nines     | resuscitation | query
nines     | apgar_1       | query
nines     | apgar_5       | query
sevens    | resuscitation | query
sevens    | apgar_1       | query
sevens    | apgar_5       | query
"""

[[examples]]
because = "0 and 0 of a living newborn that needed no compressions: a field filled with nought, or no score taken"
given.admission = """
record_id | live_birth | resuscitation | apgar_1 | apgar_5 | apgar_10
vigorous  | true       | none          | 0       | 0       |
blank     |            | ventilation   | 0       | 0       |
"""
expect = """
record_id | column_name | severity | explanation
vigorous  | apgar_1     | query    | Scores of 0 at 1 and 5 minutes mean no sign of life for five minutes, yet the newborn is recorded as living and without chest compressions. Perhaps no score was taken and the fields were filled with 0: check them.
vigorous  | apgar_5     | query    | Scores of 0 at 1 and 5 minutes mean no sign of life for five minutes, yet the newborn is recorded as living and without chest compressions. Perhaps no score was taken and the fields were filled with 0: check them.
blank     | apgar_1     | query    | Scores of 0 at 1 and 5 minutes mean no sign of life for five minutes, yet the newborn is recorded as living and without chest compressions. Perhaps no score was taken and the fields were filled with 0: check them.
blank     | apgar_5     | query    | Scores of 0 at 1 and 5 minutes mean no sign of life for five minutes, yet the newborn is recorded as living and without chest compressions. Perhaps no score was taken and the fields were filled with 0: check them.
"""

[[examples]]
because = "stillborn, compressions with low scores, a score that recovered, one score alone are left alone"
given.admission = """
record_id | live_birth | resuscitation | apgar_1 | apgar_5
stillborn | false      | none          | 0       | 0
helped    | true       | compressions  | 1       | 6
came_back | true       | compressions  | 0       | 0
rising    | true       | none          | 0       | 5
alone     | true       | compressions  |         | 9
unknown   | true       |               | 0       | 0
"""
expect = """
record_id | column_name
"""
*/
with beside as (
    select
        newborn.row_id,
        newborn.resuscitation = 'compressions'
        and newborn.apgar_1 between setting.high_score and 10
        and newborn.apgar_5 between setting.high_score and 10 as is_high,
        newborn.resuscitation in ('none', 'ventilation')
        and newborn.apgar_1 = 0
        and newborn.apgar_5 = 0 as is_nought,
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    where coalesce(newborn.live_birth, true)
)

select
    row_id,
    unnest(
        if(is_high, ['resuscitation', 'apgar_1', 'apgar_5'], ['apgar_1', 'apgar_5'])
    ) as column_name,
    if(
        is_nought,
        'Scores of 0 at 1 and 5 minutes mean no sign of life for five minutes, yet the newborn is '
            || 'recorded as living and without chest compressions. Perhaps no score was taken and '
            || 'the fields were filled with 0: check them.',
        null
    ) as explanation,
from beside
where is_high or is_nought
