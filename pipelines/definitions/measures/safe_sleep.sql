/*
title = "Safe sleep seen"
question = "Was the newborn's sleeping place looked at, and safe when last seen?"
also_called = ["sudden infant death", "supine", "sleep position"]
group = "leaving"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 24 hours of age who stayed 24 hours."
numerator = "A look at the sleeping place before leaving is on the record, and the last one was as expected: on the back, on a flat surface of its own, nothing soft beside."
anchor = "birth"
window_status = "published"
parameters = { day_stay_minutes = 1440 }
follows = { day_stay_minutes = "first_examination" }
owner = "born_here_or_arrived"
arrived_before = 1440
exceptions = "None."
missing = "not_met"
sources = [
    "AAP, Pediatrics 150(1):e2022057990, 2022 (from memory): on the back, on a firm flat surface of its own, shown before leaving",
    "Brought in before 24 hours: local decision, no published value",
]
disagreement = "What a unit looks at is its own list; here one finding (safe_sleep) says whether it was as expected."
documentation_trap = "A box that is ticked at handover has seen nobody. Looks that found something unsafe are what teaches."
caution = "This screens records. In skin contact and at the breast a newborn is awake or watched: that is not a sleeping place."
balancing = ["skin_contact_sustained", "fall_or_collapse"]
look_at = ["sleeping place: each time, as expected or not"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "Families do at home what they saw in the unit."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "the last look before leaving decides; of two in one minute the unsafe one; after leaving does not count"
given.admission = """
record_id | discharge_minutes | disposition
safe      | 3000              | home
became    | 3000              | home
unsafe    | 3000              | home
together  | 3000              | home
after     | 3000              | home
no_row    | 3000              | home
"""
given.finding = """
record_id | kind       | minutes | as_expected
safe      | safe_sleep | 3000    | true
became    | safe_sleep | 900     | false
became    | safe_sleep | 1900    | true
unsafe    | safe_sleep | 900     | true
unsafe    | safe_sleep | 1900    | false
together  | safe_sleep | 900     | true
together  | safe_sleep | 900     | false
after     | safe_sleep | 3001    | true
"""
expect = """
record_id | state          | minutes
safe      | met            | 3000
became    | met            | 1900
unsafe    | not_met        | 1900
together  | not_met        | 900
after     | not_documented |
no_row    | not_documented |
"""

[[examples]]
because = "masked looks are unusable, a usable one beside them is taken"
given.admission = """
record_id
bad
no_time
mixed
"""
given.finding = """
record_id | kind       | minutes | as_expected | unusable
bad       | safe_sleep | 900     |             | as_expected
no_time   | safe_sleep |         | true        | minutes
mixed     | safe_sleep | 1900    |             | as_expected
mixed     | safe_sleep | 900     | true        |
"""
expect = """
record_id | state
bad       | unusable
no_time   | unusable
mixed     | met
"""

[[examples]]
because = "a short stay and the standard exclusions"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition
short     | true       | birth_room  | 1439              | home
day       | true       | birth_room  | 1440              | home
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
record_id | state          | reason
short     | exclusion      | stayed less than 24 hours
day       | not_documented |
still     | exclusion      | stillborn
died      | exclusion      | died before the window closed
moved     | exception      | moved before the window closed
elsewhere | exclusion      | arrival not known
comfort   | exclusion      | comfort care before the window closed
"""
*/
with look as (
    select
        event.newborn_id as newborn_id,
        max(event.minutes) filter (where event.is_usable) as minutes,
        arg_max(event.as_expected, (event.minutes, not event.as_expected)) filter (
            where event.is_usable
        ) as is_safe,
    from mart.event as event
    inner join mart.newborn as newborn on newborn.newborn_id = event.newborn_id
    where
        event.kind = 'safe_sleep'
        and (
            event.as_expected is not null
            or coalesce(list_contains(event.unusable, 'as_expected'), false)
        )
        and coalesce(event.minutes <= newborn.discharge_minutes, true)
    group by event.newborn_id
)

select
    setting.newborn_id as newborn_id,
    if(
        went_home.home_minutes < setting.day_stay_minutes, 'stayed less than 24 hours', null
    ) as exclusion,
    look.newborn_id is not null as is_documented,
    look.minutes is not null as is_usable,
    look.minutes as minutes,
    setting.day_stay_minutes as closes_minutes,
    look.is_safe as is_met,
from setting
left join look using (newborn_id)
left join went_home using (newborn_id)
