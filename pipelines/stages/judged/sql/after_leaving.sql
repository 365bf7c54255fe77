-- Events recorded after the newborn left the unit. A few are wrong times, many say that the time
-- of leaving is wrong.
create or replace temp table after_leaving as
with left_at as (
    select
        newborn_id,
        discharge_minutes,
    from typed.admission
    where discharge_minutes >= 0
),

event as (
    select 'observation' as table_name, row_id, newborn_id, kind, minutes from typed.observation
    union all
    select 'dose' as table_name, row_id, newborn_id, kind, minutes from typed.dose
    union all
    select 'care' as table_name, row_id, newborn_id, kind, minutes from typed.care
    union all
    select 'finding' as table_name, row_id, newborn_id, kind, minutes from typed.finding
)

select
    event.table_name,
    event.row_id,
    event.newborn_id,
    event.minutes,
    left_at.discharge_minutes,
    -- Three or more: rather the one time of leaving is wrong than all of them. Not where they are
    -- half a year or more later: then it is their year.
    event.minutes < left_at.discharge_minutes + 262800
    and count(*) filter (where event.minutes < left_at.discharge_minutes + 262800)
        over (partition by event.newborn_id)
    >= 3 as is_leaving_doubtful,
from event
inner join left_at
    on left_at.newborn_id = event.newborn_id and event.minutes > left_at.discharge_minutes
-- A screen done again as an outpatient, or an admission anew, is rightly later.
anti join kind_after_leaving
    on
        kind_after_leaving.table_name = event.table_name
        and kind_after_leaving.kind = event.kind
