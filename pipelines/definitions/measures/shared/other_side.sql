-- one row per newborn and event that nobody wants: the first, and whether the export has it at all
-- reads setting: no_row_is_none
with unwanted as (
    select
        event,
        kind,
    from (
        values
            ('intensive_care', 'intensive_care'),
            ('phototherapy', 'phototherapy'),
            ('readmission', 'readmission'),
            ('fall_or_collapse', 'fall'),
            ('fall_or_collapse', 'collapse')
    ) as listed (event, kind)
),

charted as (
    select distinct
        charted_kind.unit as unit,
        unwanted.event as event,
    from unwanted
    inner join charted_kind on charted_kind.kind = unwanted.kind
),

happened as (
    select
        care.newborn_id as newborn_id,
        unwanted.event as event,
        min(care.minutes) filter (where care.status = 'done') as minutes,
        -- A row that cannot be placed, or of which nobody can say whether it happened.
        bool_or(
            care.status is null or (care.status = 'done' and care.minutes is null)
        ) as has_unplaced,
    from mart.event as care
    inner join unwanted on unwanted.kind = care.kind
    group by care.newborn_id, unwanted.event
)

select
    newborn.newborn_id as newborn_id,
    listed.event as event,
    happened.newborn_id is not null
    or charted.event is not null
    or setting.no_row_is_none as is_documented,
    happened.minutes is not null or not coalesce(happened.has_unplaced, false) as is_usable,
    happened.minutes as minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
cross join (select distinct event from unwanted) as listed
left join charted on charted.unit = newborn.unit and charted.event = listed.event
left join happened
    on happened.newborn_id = newborn.newborn_id and happened.event = listed.event
