/*
title = "Bilirubin measured before leaving"
question = "Was bilirubin measured, with its hour, before the newborn left?"
also_called = ["jaundice", "hyperbilirubinaemia"]
group = "screening"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 24 hours of age at 35 weeks or more. A newborn whose gestation is not recorded stays in."
numerator = "A bilirubin with value and time, at 24 to 48 hours; of a newborn who went home before 24 hours, any before leaving; of one who went home before 48 hours, by then."
anchor = "birth"
window_status = "published in part"
parameters = { bilirubin_from_minutes = 1440, bilirubin_until_minutes = 2880, bilirubin_from_weeks = 35 }
owner = "born_here_or_arrived"
arrived_before = 1440
exceptions = "None."
missing = "not_met"
sources = [
    "AAP, Pediatrics 150(3):e2022058859, 2022 (from memory): at 35 weeks or more, through the skin or from blood, between 24 and 48 hours or before discharge if that is earlier",
    "Brought in before 24 hours: local decision, no published value",
]
disagreement = "Some units look at the skin and measure only what looks yellow; there this measure is switched off. From blood or through the skin is not told apart here."
documentation_trap = "A meter at the bedside may not send its readings. The value means nothing without its hour: a reading without a believable time is unusable."
caution = "This screens records and knows no limit for treatment. Skin colour hides jaundice: read it by group."
balancing = ["phototherapy", "heel_pricks"]
look_at = ["bilirubin: time, value", "discharge: time"]
version = "1.0"

[gravity]
level = "serious"
why = "Severe jaundice gives little sign before it harms the brain."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "minute 1440 and 2880 count, 1439 and 2881 do not; of several one in time is enough"
given.admission = """
record_id | gestational_age_days
at1440    | 280
at2880    | 280
at1439    | 280
at2881    | 280
several   | 280
"""
given.observation = """
record_id | kind      | minutes | value
at1440    | bilirubin | 1440    | 7
at2880    | bilirubin | 2880    | 7
at1439    | bilirubin | 1439    | 7
at2881    | bilirubin | 2881    | 7
several   | bilirubin | 600     | 5
several   | bilirubin | 1500    | 7
several   | bilirubin | 5000    | 9
"""
expect = """
record_id | state   | minutes
at1440    | met     | 1440
at2880    | met     | 2880
at1439    | not_met | 1439
at2881    | not_met | 2881
several   | met     | 1500
"""

[[examples]]
because = "home before 24 hours: any before leaving; home before 48 hours: by then; after leaving does not count"
given.admission = """
record_id | discharge_minutes | disposition
early     | 1200              | home
early_no  | 1200              | home
before    | 2000              | home
after     | 2000              | home
"""
given.observation = """
record_id | kind      | minutes | value
early     | bilirubin | 1200    | 5
early_no  | bilirubin | 1500    | 5
before    | bilirubin | 2000    | 7
after     | bilirubin | 2001    | 7
"""
expect = """
record_id | state
early     | met
early_no  | not_met
before    | met
after     | not_met
"""

[[examples]]
because = "no row, masked readings, and a usable one beside them"
given.admission = """
record_id
no_row
bad_value
bad_time
mixed
"""
given.observation = """
record_id | kind      | minutes | value | unusable
bad_value | bilirubin | 1500    |       | value
bad_time  | bilirubin |         | 7     | minutes
mixed     | bilirubin | 1500    |       | value
mixed     | bilirubin | 1600    | 7     |
"""
expect = """
record_id | state
no_row    | not_documented
bad_value | unusable
bad_time  | unusable
mixed     | met
"""

[[examples]]
because = "too early born, and the standard exclusions"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition | gestational_age_days
days244   | true       | birth_room  |                   |             | 244
days245   | true       | birth_room  |                   |             | 245
still     | false      | birth_room  |                   |             | 280
died      | true       | birth_room  | 600               | died        | 280
moved     | true       | birth_room  | 600               | transfer    | 280
elsewhere | true       | other_site  |                   |             | 280
comfort   | true       | birth_room  |                   |             | 280
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id | state          | reason
days244   | exclusion      | born before 35 weeks
days245   | not_documented |
still     | exclusion      | stillborn
died      | exclusion      | died before the window closed
moved     | exception      | moved before the window closed
elsewhere | exclusion      | arrival not known
comfort   | exclusion      | comfort care before the window closed
"""
*/
with hours as (
    select
        newborn.newborn_id as newborn_id,
        least(
            coalesce(newborn.discharge_minutes, setting.bilirubin_until_minutes),
            setting.bilirubin_until_minutes
        ) as until_minutes,
        if(
            went_home.home_minutes < setting.bilirubin_from_minutes,
            0,
            setting.bilirubin_from_minutes
        ) as from_minutes,
    from mart.newborn as newborn
    inner join setting on setting.newborn_id = newborn.newborn_id
    left join went_home on went_home.newborn_id = newborn.newborn_id
),

reading as (
    select
        hours.newborn_id as newborn_id,
        min(event.minutes) filter (
            where event.is_usable
            and event.minutes between hours.from_minutes and hours.until_minutes
        ) as minutes,
        min(event.minutes) filter (where event.is_usable) as any_minutes,
    from hours
    inner join mart.event as event on event.newborn_id = hours.newborn_id
    where event.kind = 'bilirubin'
    group by hours.newborn_id
)

select
    newborn.newborn_id as newborn_id,
    if(
        newborn.gestational_age_days < setting.bilirubin_from_weeks * 7,
        'born before 35 weeks',
        null
    ) as exclusion,
    reading.newborn_id is not null as is_documented,
    reading.any_minutes is not null as is_usable,
    coalesce(reading.minutes, reading.any_minutes) as minutes,
    setting.bilirubin_until_minutes as closes_minutes,
    reading.minutes is not null as is_met,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join reading on reading.newborn_id = newborn.newborn_id
