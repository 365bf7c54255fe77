/*
title = "Five heel pricks or more"
question = "How many newborns had their heel pricked five times or more in three days?"
also_called = ["pain", "blood sampling"]
group = "the other side"
kind = "proportion"
direction = "lower"
population = "Newborns born alive in the unit."
numerator = "Five minutes or more of the first 72 hours at which a glucose, a blood spot or a heel prick is on the record."
anchor = "birth"
window_status = "local"
parameters = { no_row_is_none = false, many_pricks = 5, pricks_until_minutes = 4320 }
follows = { no_row_is_none = "intensive_care_at_term" }
owner = "born_here"
exceptions = "None."
missing = "left_out"
sources = [
    "Five in 72 hours: local decision, no published value",
]
disagreement = "Bilirubin from blood is a prick and through the skin is none; the record does not tell them apart, so neither counts."
documentation_trap = "Two tests from one prick at one minute are one. Blood from a line counts as a prick here. No row is read as none, but only where the unit's export has this kind of event for any newborn; where it has none at all the measure is silent. A unit that charts every such event, and had none, sets no_row_is_none to true under intensive_care_at_term."
caution = "This screens records. Some of these pricks were needed: look at the share, never at one newborn."
balancing = ["glucose_check", "low_glucose_rechecked"]
look_at = ["glucose, blood spot, heel prick: times"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "Each prick hurts."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "five different minutes; two tests of one minute are one; after 72 hours does not count; no row beside others is none"
given.admission = """
record_id
five
four
late
none
"""
given.observation = """
record_id | kind    | minutes | value
five      | glucose | 60      | 50
five      | glucose | 120     | 50
five      | glucose | 180     | 50
four      | glucose | 60      | 50
four      | glucose | 120     | 50
four      | glucose | 180     | 50
late      | glucose | 60      | 50
late      | glucose | 120     | 50
late      | glucose | 180     | 50
"""
given.care = """
record_id | kind       | minutes | status
five      | blood_spot | 1500    | done
five      | heel_prick | 4320    | done
four      | blood_spot | 1500    | done
four      | heel_prick | 1500    | done
late      | blood_spot | 1500    | done
late      | heel_prick | 4321    | done
"""
expect = """
record_id | state
five      | met
four      | not_met
late      | not_met
none      | not_met
"""

[[examples]]
because = "one that cannot be placed leaves the count open, unless it is full; a masked value was a prick all the same; not done is none"
given.admission = """
record_id
open
full
value
not_done
"""
given.observation = """
record_id | kind    | minutes | value | unusable
open      | glucose |         | 50    | minutes
full      | glucose |         | 50    | minutes
full      | glucose | 1       | 50    |
full      | glucose | 2       | 50    |
full      | glucose | 3       | 50    |
full      | glucose | 4       | 50    |
full      | glucose | 5       | 50    |
value     | glucose | 1       |       | value
value     | glucose | 2       | 50    |
value     | glucose | 3       | 50    |
value     | glucose | 4       | 50    |
value     | glucose | 5       | 50    |
"""
given.care = """
record_id | kind       | minutes | status
not_done  | blood_spot |         | not_done
"""
expect = """
record_id | state
open      | unusable
full      | met
value     | met
not_done  | not_met
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
with pricked as (
    select
        event.newborn_id as newborn_id,
        count(distinct event.minutes) filter (
            where event.minutes <= setting.pricks_until_minutes
        ) as pricks,
        bool_or(event.minutes is null) as has_unplaced,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where
        event.kind in ('glucose', 'blood_spot', 'heel_prick')
        and event.status is distinct from 'not_done'
    group by event.newborn_id
)

select
    newborn.newborn_id as newborn_id,
    setting.no_row_is_none
    or exists (
        select 1
        from charted_kind
        where
            charted_kind.unit = newborn.unit
            and charted_kind.kind in ('glucose', 'blood_spot', 'heel_prick')
    ) as is_documented,
    pricked.newborn_id is null
    or not pricked.has_unplaced
    or pricked.pricks >= setting.many_pricks as is_usable,
    setting.pricks_until_minutes as closes_minutes,
    coalesce(pricked.pricks >= setting.many_pricks, false) as is_met,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join pricked on pricked.newborn_id = newborn.newborn_id
