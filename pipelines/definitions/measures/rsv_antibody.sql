/*
title = "Antibody against RSV in its season"
question = "Was the antibody against RSV given to those born in its months?"
also_called = ["respiratory syncytial virus", "nirsevimab", "bronchiolitis"]
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 24 hours of age in the months of the season, October to March unless set. A newborn whose month of birth is not known is nobody's."
numerator = "The antibody recorded as given inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 10080 }
window_status = "published in part"
parameters = { season_from_month = 10, season_to_month = 3 }
owner = "born_here_or_arrived"
arrived_before = 1440
exceptions = "Declined by the family; contraindicated."
missing = "not_met"
sources = [
    "CDC, MMWR 72(34):920-925, 2023 (from memory): within 1 week of birth for those born in the season, October to March in most of the United States",
    "Brought in before 24 hours: local decision, no published value",
]
disagreement = "Season and policy differ by country and latitude: set the months, or applies = false where your policy is another. A mother vaccinated in pregnancy in time makes it needless; such a newborn is set apart where the record says so."
documentation_trap = "The mother's vaccine is on her chart. A dose given in a clinic after leaving is not seen here."
caution = "This screens records. Local policy, supply and the family decide. Put off to a later date is no exception here: read those apart."
balancing = ["vitamin_k"]
look_at = ["antibody against RSV: time, status, reason", "mother's vaccine"]
version = "1.0"

[gravity]
level = "process"
why = "Who left without it can have it later; the season goes on."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "born in October and March counts, April and September not; minute 10080 counts, later is late"
given.admission = """
record_id | birth_month | birth_date
october   | 2025-10-01  | 2025-10-01
march     | 2026-03-01  | 2026-03-31
april     | 2026-04-01  | 2026-04-01
september | 2025-09-01  | 2025-09-30
late      | 2026-01-01  | 2026-01-05
"""
given.dose = """
record_id | kind         | minutes | status | route
october   | rsv_antibody | 10080   | given  | intramuscular
march     | rsv_antibody | 1500    | given  | intramuscular
april     | rsv_antibody | 1500    | given  | intramuscular
september | rsv_antibody | 1500    | given  | intramuscular
late      | rsv_antibody | 10081   | given  | intramuscular
"""
expect = """
record_id | state | minutes
october   | met   | 10080
march     | met   | 1500
late      | late  | 10081
"""

[[examples]]
because = "no row; refused and contraindicated are exceptions unless given in time; other reasons are not done; a mother vaccinated sets apart; no time is unusable"
given.admission = """
record_id  | birth_month
no_row     | 2026-01-01
refused    | 2026-01-01
contra     | 2026-01-01
later      | 2026-01-01
no_stock   | 2026-01-01
mother     | 2026-01-01
mother_yet | 2026-01-01
no_time    | 2026-01-01
then_given | 2026-01-01
"""
given.dose = """
record_id  | kind         | minutes | status  | reason            | unusable
refused    | rsv_antibody | 1500    | refused | declined          |
contra     | rsv_antibody | 1500    | held    | contraindicated   |
later      | rsv_antibody | 1500    | held    | later             |
no_stock   | rsv_antibody | 1500    | held    | no_stock          |
mother     | rsv_antibody | 1500    | held    | mother_vaccinated |
mother_yet | rsv_antibody | 1500    | held    | mother_vaccinated |
mother_yet | rsv_antibody | 1600    | given   |                   |
no_time    | rsv_antibody |         | given   |                   | minutes
then_given | rsv_antibody | 1500    | refused | declined          |
then_given | rsv_antibody | 2000    | given   |                   |
"""
expect = """
record_id  | state          | reason
no_row     | not_documented |
refused    | exception      | declined
contra     | exception      | contraindicated
later      | not_done       | later
no_stock   | not_done       | no_stock
mother     | exclusion      | mother vaccinated in pregnancy
mother_yet | met            |
no_time    | unusable       |
then_given | met            |
"""

[[examples]]
because = "a season within one year"
policy = { season_from_month = 4, season_to_month = 9 }
given.admission = """
record_id | birth_month | birth_date
april     | 2026-04-01  | 2026-04-01
september | 2025-09-01  | 2025-09-30
march     | 2026-03-01  | 2026-03-31
"""
expect = """
record_id | state
april     | not_documented
september | not_documented
"""

[[examples]]
because = "brought in before 24 hours it is owed, at 24 hours no longer"
given.admission = """
record_id | birth_place | arrival_minutes | birth_month
before    | other_site  | 1439            | 2026-01-01
at_24     | other_site  | 1440            | 2026-01-01
"""
expect = """
record_id | state
before    | not_documented
at_24     | exclusion
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition | birth_month
still     | false      | birth_room  |                   |             | 2026-01-01
died      | true       | birth_room  | 600               | died        | 2026-01-01
moved     | true       | birth_room  | 600               | transfer    | 2026-01-01
elsewhere | true       | other_site  |                   |             | 2026-01-01
comfort   | true       | birth_room  |                   |             | 2026-01-01
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id | state
still     | exclusion
died      | exclusion
moved     | exception
elsewhere | exclusion
comfort   | exclusion
"""
*/
with antibody as (
    select
        newborn_id as newborn_id,
        bool_or(status is null or status = 'given') as is_open,
        min(minutes) filter (where status = 'given') as given_minutes,
        case
            when bool_or(status = 'refused' or (status = 'held' and reason = 'declined'))
                then 'declined'
            when bool_or(status = 'held' and reason = 'contraindicated') then 'contraindicated'
        end as excepted_reason,
        bool_or(status = 'held' and reason = 'mother_vaccinated') as is_needless,
        min(coalesce(reason, 'no reason recorded')) filter (where status = 'held') as held_reason,
    from mart.event
    where kind = 'rsv_antibody'
    group by newborn_id
)

select
    newborn.newborn_id as newborn_id,
    if(antibody.is_needless and not antibody.is_open, 'mother vaccinated in pregnancy', null)
        as exclusion,
    antibody.excepted_reason as exception,
    if(antibody.is_open, null, antibody.held_reason) as not_done_reason,
    antibody.newborn_id is not null as is_documented,
    antibody.given_minutes is not null as is_usable,
    antibody.given_minutes as minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join antibody on antibody.newborn_id = newborn.newborn_id
where
    -- Months counted from the first of the season, so that a season may run over the new year.
    (month(newborn.birth_month) - setting.season_from_month + 12) % 12
    <= (setting.season_to_month - setting.season_from_month + 12) % 12
