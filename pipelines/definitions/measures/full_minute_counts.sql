/*
title = "Heart rate and breaths counted for a full minute"
question = "Were hand counts of heart rate and respirations taken over a full minute?"
also_called = ["respiratory rate", "heart rate", "apical pulse", "vital signs"]
group = "first observations"
kind = "observation"
direction = "higher"
population = "Heart rates and respirations of newborns born alive, taken in the first 24 hours and not read from a device."
numerator = "Recorded as counted for one full minute."
anchor = "the count"
parameters = { counts_until_minutes = 1440 }
owner = "recorded"
exceptions = "None."
missing = "not_met"
sources = [
    "AAP guidance on bronchiolitis, 2006: counting over one minute may be more accurate than multiplying a short count",
    "First 24 hours: local decision, no published value",
]
disagreement = "Many units do not chart how a rate was counted. There, switch this measure off for the unit and look at the share of multiples of four, which is only a proxy."
documentation_trap = "A default in the flowsheet makes every count a full minute. A blank is not documented, not a short count."
caution = "This screens records. Newborns breathe in bursts, so that a short count misleads; a full count takes longer handling. It says nothing about the newborn's condition."
balancing = ["longest_observation_gap"]
look_at = ["heart rate and respiratory rate: method of counting"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "How counts are made is a habit of the unit, not of one record."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[examples]]
because = "each hand count is a row of its own; a device is none; a blank method is not documented, a masked one unusable"
given.admission = """
record_id
one
two
"""
given.observation = """
record_id | kind             | minutes | value | method      | unusable
one       | heart_rate       | 30      | 140   | full_minute |
one       | respiratory_rate | 31      | 44    | part_minute |
one       | heart_rate       | 60      | 138   | device      |
one       | respiratory_rate | 61      | 45    |             |
one       | temperature      | 61      | 36.8  |             |
two       | heart_rate       | 30      | 140   |             | method
two       | respiratory_rate |         | 44    | full_minute | minutes
"""
expect = """
record_id | item | state          | minutes
one       | 1    | met            | 30
one       | 2    | not_met        | 31
one       | 3    | not_documented | 61
two       | 1    | unusable       | 30
two       | 2    | unusable       |
"""

[[examples]]
because = "minute 1440 is still the first day, 1441 is not; a stillborn's counts are set apart; a masked value does not matter here"
given.admission = """
record_id | live_birth
at1440    | true
at1441    | true
still     | false
no_value  | true
"""
given.observation = """
record_id | kind       | minutes | value | method      | unusable
at1440    | heart_rate | 1440    | 140   | full_minute |
at1441    | heart_rate | 1441    | 140   | full_minute |
still     | heart_rate | 2       | 40    | full_minute |
no_value  | heart_rate | 20      |       | full_minute | value
"""
expect = """
record_id | item | state
at1440    | 1    | met
still     | 1    | exclusion
no_value  | 1    | met
"""
*/
select
    newborn_id as newborn_id,
    row_number() over (
        partition by newborn_id
        -- By what was charted, so that the order of the lines in a file changes nothing.
        order by minutes nulls last, kind, method, value, unusable::varchar
    ) as item,
    method is not null or coalesce(list_contains(unusable, 'method'), false) as is_documented,
    method is not null and minutes is not null as is_usable,
    minutes as minutes,
    method = 'full_minute' as is_met,
from hand_count
