/*
title       = "The end stands before the start"
table       = "care"
severity    = "error"
explanation = "The end is before the start, which cannot be: a date not changed at midnight, a 12-hour clock, or start and end in each other's place. The end is not used; check both."
# error on the end, which cannot be used; query on the start, which may be the wrong one.

[[examples]]
because = "skin contact that ends before it starts; after midnight a day later fits, and a start 12 hours late is named"
given.care = """
record_id | kind         | minutes | end_minutes
swapped   | skin_contact | 70      | 10
forward   | skin_contact | 730     | 70
"""
expect = """
record_id | column_name | severity | suggestion
swapped   | end_minutes | error    | If the end is a day later: 1450 min after birth; if morning was charted for afternoon: 730 min.
swapped   | minutes     | query    |
forward   | end_minutes | error    | If the end is a day later: 1510 min after birth; if morning was charted for afternoon: 790 min.
forward   | minutes     | query    | 12 hours earlier would fit: 10 min after birth
"""

[[examples]]
because = "more than twelve hours before, only a day later fits"
given.care = """
record_id | kind    | minutes | end_minutes
a         | cooling | 900     | 100
"""
expect = """
record_id | column_name | severity | suggestion
a         | end_minutes | error    | If the end is a day later: 1540 min after birth.
a         | minutes     | query    |
"""

[[examples]]
because = "an end in the same minute, no end, and a start or end before birth (another rule) are left alone"
given.care = """
record_id | kind         | minutes | end_minutes
same      | skin_contact | 5       | 5
open      | skin_contact | 5       |
only_end  | skin_contact |         | 60
early     | skin_contact | 5       | -20
"""
expect = """
record_id | column_name
"""
*/
with turned as (
    select
        row_id,
        minutes,
        end_minutes,
    from typed.care
    where end_minutes < minutes and end_minutes >= 0
)

select
    row_id,
    'end_minutes' as column_name,
    'error' as severity,
    case
        when end_minutes + 1440 >= minutes
        then 'If the end is a day later: ' || cast(round(end_minutes + 1440) as bigint)
            || ' min after birth'
            || if(
                end_minutes + 720 >= minutes,
                '; if morning was charted for afternoon: '
                    || cast(round(end_minutes + 720) as bigint) || ' min',
                ''
            )
            || '.'
    end as suggestion,
from turned
union all
select
    row_id,
    'minutes' as column_name,
    'query' as severity,
    earlier_fits(minutes, 0, end_minutes) as suggestion,
from turned
