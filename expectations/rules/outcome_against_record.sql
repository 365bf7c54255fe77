/*
title       = "The outcome does not fit the rest of the record"
table       = "admission"
severity    = "query"
explanation = "Recorded as stillborn, but signs of life, a dose given or a feed stand in the record. One of the two is wrong, or an entry belongs to another newborn: look at both."
sources     = ["a stillborn newborn has no heart rate, breathing, feed or vaccine, and a score of 0: the definition of live birth (World Health Organization, from memory)", "an hour for what is written down after a death: our own limit, common practice, no published source"]
# Skin contact, bands and a temperature are given to a stillborn newborn too: they say nothing.

[parameters]
written_after_death_minutes = 60

[[examples]]
because = "stillborn with a heart rate, a vaccine, a feed, a score above 0, or gone home"
given.admission = """
record_id | live_birth | apgar_1 | disposition
pulse     | false      | 0       |
vaccine   | false      |         |
fed       | false      |         |
score     | false      | 8       |
home      | false      |         | home
"""
given.observation = """
record_id | kind       | value | minutes
pulse     | heart_rate | 140   | 30
"""
given.dose = """
record_id | kind                | status | minutes
vaccine   | hepatitis_b_vaccine | given  | 300
"""
given.care = """
record_id | kind       | status | minutes
fed       | first_feed |        | 50
"""
expect = """
record_id | column_name | severity
pulse     | live_birth  | query
vaccine   | live_birth  | query
fed       | live_birth  | query
score     | live_birth  | query
home      | live_birth  | query
"""

[[examples]]
because = "what is done for a stillborn newborn, a dose not given, and living newborns are left alone"
given.admission = """
record_id | live_birth | apgar_1 | disposition
held      | false      | 0       |
declined  | false      |         |
alive     | true       | 8       | home
blank     |            | 8       | home
"""
given.care = """
record_id | kind         | status   | minutes
held      | skin_contact | done     | 10
held      | two_bands    | done     | 20
held      | first_feed   | not_done |
"""
given.observation = """
record_id | kind        | value | minutes
held      | temperature | 35.1  | 30
held      | heart_rate  | 0     | 30
"""
given.dose = """
record_id | kind      | status  | minutes
declined  | vitamin_k | refused | 60
"""
expect = """
record_id | column_name
"""

[[examples]]
because = "screened a day after the recorded death: outcome and its time are both looked at"
given.admission = """
record_id | disposition | discharge_minutes
screened  | died        | 600
"""
given.observation = """
record_id | kind              | value | minutes
screened  | oxygen_saturation | 98    | 2040
"""
expect = """
record_id | column_name       | severity | explanation
screened  | disposition       | query    | Recorded as died, but an entry is more than 60 minutes later than the time of leaving. The outcome, that time or the entry's time is wrong, or the entry belongs to another newborn: look at all three.
screened  | discharge_minutes | query    | Recorded as died, but an entry is more than 60 minutes later than the time of leaving. The outcome, that time or the entry's time is wrong, or the entry belongs to another newborn: look at all three.
"""

[[examples]]
because = "written down within the hour after a death, and entries after going home (another rule), are left alone; a unit may allow less"
numbers = { written_after_death_minutes = 30 }
given.admission = """
record_id | disposition | discharge_minutes
soon      | died        | 600
home      | home        | 600
"""
given.observation = """
record_id | kind        | value | minutes
soon      | temperature | 34.0  | 630
home      | temperature | 36.8  | 900
"""
expect = """
record_id | column_name
"""
*/
with sign_of_life as (
    select newborn_id from typed.observation where kind <> 'temperature' and value > 0
    union all
    select newborn_id from typed.dose where status = 'given'
    union all
    select newborn_id
    from typed.care
    where
        kind in ('first_feed', 'first_stool', 'first_void')
        and (status = 'done' or status is null and minutes is not null)
),

died_then_charted as (
    select
        newborn.row_id,
        setting.written_after_death_minutes,
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    inner join newborn_entries as entries using (newborn_id)
    where
        newborn.disposition = 'died'
        and entries.last_minute
        > newborn.discharge_minutes + setting.written_after_death_minutes
)

select
    row_id,
    'live_birth' as column_name,
    null as explanation,
from typed.admission
where
    not live_birth
    and (
        greatest(apgar_1, apgar_5, apgar_10) > 0
        or disposition = 'home'
        or newborn_id in (select newborn_id from sign_of_life)
    )
union all
select
    row_id,
    unnest(['disposition', 'discharge_minutes']) as column_name,
    format(
        'Recorded as died, but an entry is more than {:.0f} minutes later than the time of '
            || 'leaving. The outcome, that time or the entry''s time is wrong, or the entry '
            || 'belongs to another newborn: look at all three.',
        written_after_death_minutes
    ) as explanation,
from died_then_charted
