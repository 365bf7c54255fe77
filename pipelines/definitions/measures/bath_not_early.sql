/*
title = "First bath not early"
question = "Was the first bath left until the unit's hour?"
also_called = ["bathing"]
group = "warmth"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit whose first bath is on the record."
numerator = "The first bath recorded at or after the unit's hour, 24 hours unless set."
anchor = "birth"
window_status = "published in part"
parameters = { bath_from_minutes = 1440 }
owner = "born_here"
exceptions = "None."
missing = "left_out"
sources = [
    "WHO, recommendations on postnatal care, 2013 and 2022 (from memory): bathing delayed until 24 hours after birth, at least 6 hours where that is not possible",
]
disagreement = "Units wait 6, 12 or 24 hours: set bath_from_minutes. Some wash earlier where the mother has an infection that touch can pass on; the record does not show it."
documentation_trap = "No row does not say that nobody bathed the newborn: it stays out of the rate. A wipe after birth is often charted as a bath."
caution = "This screens records. A first bath is the family's too: ask before a habit is changed. Read it beside the temperature."
balancing = ["return_to_range"]
look_at = ["bath: time, status"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "An early bath cools a newborn and breaks into contact."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "minute 1440 counts, 1439 does not; the first of several decides"
given.admission = """
record_id
at1440
at1439
twice
"""
given.care = """
record_id | kind | minutes | status
at1440    | bath | 1440    | done
at1439    | bath | 1439    | done
twice     | bath | 600     | done
twice     | bath | 3000    | done
"""
expect = """
record_id | state   | minutes
at1440    | met     | 1440
at1439    | not_met | 1439
twice     | not_met | 600
"""

[[examples]]
because = "no row is not documented, a time that cannot be believed unusable; recorded as not bathed is set apart"
given.admission = """
record_id
no_row
bad_time
not_bathed
mixed
"""
given.care = """
record_id  | kind | minutes | status   | unusable
bad_time   | bath |         | done     | minutes
not_bathed | bath |         | not_done |
mixed      | bath |         | done     | minutes
mixed      | bath | 2000    | done     |
"""
expect = """
record_id  | state          | reason
no_row     | not_documented |
bad_time   | unusable       |
not_bathed | exclusion      | not bathed here
mixed      | met            |
"""

[[examples]]
because = "standard exclusions; a newborn who was bathed first and left after that counts"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition
still     | false      | birth_room  |                   |
died      | true       | birth_room  | 60                | died
moved     | true       | birth_room  | 60                | transfer
elsewhere | true       | other_site  |                   |
comfort   | true       | birth_room  |                   |
bathed    | true       | birth_room  | 60                | transfer
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
bathed    | bath         | 40      | done
"""
expect = """
record_id | state     | reason
still     | exclusion | stillborn
died      | exclusion | died before the window closed
moved     | exception | moved before the window closed
elsewhere | exclusion | born elsewhere
comfort   | exclusion | comfort care before the window closed
bathed    | not_met   |
"""

[[examples]]
because = "a unit may set six hours"
policy = { bath_from_minutes = 360 }
given.admission = """
record_id
at360
at359
"""
given.care = """
record_id | kind | minutes | status
at360     | bath | 360     | done
at359     | bath | 359     | done
"""
expect = """
record_id | state
at360     | met
at359     | not_met
"""
*/
with bathed as (
    select
        newborn_id as newborn_id,
        bool_and(status is not distinct from 'not_done') as is_never,
        min(minutes) filter (where status = 'done') as minutes,
    from mart.event
    where kind = 'bath'
    group by newborn_id
)

select
    setting.newborn_id as newborn_id,
    if(bathed.is_never, 'not bathed here', null) as exclusion,
    bathed.newborn_id is not null as is_documented,
    bathed.minutes is not null as is_usable,
    bathed.minutes as minutes,
    coalesce(bathed.minutes, setting.bath_from_minutes) as closes_minutes,
    bathed.minutes >= setting.bath_from_minutes as is_met,
from setting
left join bathed using (newborn_id)
