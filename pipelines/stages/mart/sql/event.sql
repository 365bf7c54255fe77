-- One row per observation, dose, care item or finding, in minutes after birth. What is named
-- nowhere here is a unit's own column: it is carried along to the end of the row.
create table mart.event as
with observation as (
    select
        newborn_id,
        row_id as event_id,
        'observation' as table_name,
        kind,
        minutes,
        charted_minutes,
        value,
        kind_unit.unit as value_unit,
        site,
        method,
        minutes is not null and value is not null as is_usable,
        unusable,
        observation.* exclude (
            newborn_id, row_id, unit, record_id, source_file, source_line, kind, minutes,
            charted_minutes, value, site, method, unusable
        ),
    from judged.observation
    left join typed.kind_unit using (kind)
),

dose as (
    select
        newborn_id,
        row_id as event_id,
        'dose' as table_name,
        kind,
        minutes,
        status,
        reason,
        route,
        site,
        amount,
        amount_unit,
        strength,
        -- A refusal needs no time to be known as one.
        status is not null and (minutes is not null or status <> 'given') as is_usable,
        unusable,
        dose.* exclude (
            newborn_id, row_id, unit, record_id, source_file, source_line, kind, minutes,
            status, reason, route, site, amount, amount_unit, strength, unusable
        ),
    from judged.dose
),

care as (
    select
        newborn_id,
        row_id as event_id,
        'care' as table_name,
        kind,
        minutes,
        end_minutes,
        -- Blank with a time is done; a status that could not be believed is not blank.
        coalesce(
            status,
            if(minutes is not null and not list_contains(unusable, 'status'), 'done', null)
        ) as status,
        reason,
        quantity,
        not list_contains(unusable, 'status')
        and (minutes is not null or coalesce(status, 'done') = 'not_done') as is_usable,
        unusable,
        care.* exclude (
            newborn_id, row_id, unit, record_id, source_file, source_line, kind, minutes,
            end_minutes, status, reason, quantity, unusable
        ),
    from judged.care
),

finding as (
    select
        newborn_id,
        row_id as event_id,
        'finding' as table_name,
        finding.kind,
        minutes,
        as_expected,
        finding.detail,
        -- Of an unexpected finding alone; the tier of its detail goes before that of any detail.
        if(not as_expected, nullif(coalesce(of_detail.tier, of_any.tier), 0), null) as tier,
        told_role,
        told_minutes,
        minutes is not null and as_expected is not null as is_usable,
        unusable,
        finding.* exclude (
            newborn_id, row_id, unit, record_id, source_file, source_line, kind, minutes,
            as_expected, detail, told_role, told_minutes, unusable
        ),
    from judged.finding as finding
    left join typed.finding_tier as of_detail
        on
            of_detail.unit = finding.unit
            and of_detail.kind = finding.kind
            and of_detail.detail = lower(trim(finding.detail))
    left join typed.finding_tier as of_any
        on
            of_any.unit = finding.unit
            and of_any.kind = finding.kind
            and of_any.detail = ''
),

every_event as (
    select * from observation
    union all by name
    select * from dose
    union all by name
    select * from care
    union all by name
    select * from finding
)

select
    newborn_id,
    event_id,
    table_name,
    kind,
    minutes,
    end_minutes,
    charted_minutes,
    status,
    reason,
    value,
    value_unit,
    site,
    method,
    route,
    amount,
    amount_unit,
    strength,
    quantity,
    as_expected,
    detail,
    tier,
    told_role,
    told_minutes,
    is_usable,
    unusable,
    * exclude (
        newborn_id, event_id, table_name, kind, minutes, end_minutes, charted_minutes, status,
        reason, value, value_unit, site, method, route, amount, amount_unit, strength, quantity,
        as_expected, detail, tier, told_role, told_minutes, is_usable, unusable
    ),
from every_event
