-- one row per measure, month and cause: how many newborns changed state for it between two stores
with added_row as (
    select record_id
    from new_content
    anti join old_content using (record_id, table_name, content)
    group by record_id
),

gone_row as (
    select record_id
    from old_content
    anti join new_content using (record_id, table_name, content)
    group by record_id
),

changed_flag as (
    select record_id
    from (select * from new_flag except all select * from old_flag)
    union
    select record_id
    from (select * from old_flag except all select * from new_flag)
),

changed_answer as (
    select record_id
    from (select * from new_answer except all select * from old_answer)
    union
    select record_id
    from (select * from old_answer except all select * from new_answer)
),

changed_policy as (
    select measure_id
    from (select * from new_policy except all select * from old_policy)
    union
    select measure_id
    from (select * from old_policy except all select * from new_policy)
),

measure_in_both as (
    select
        new_measure.measure_id,
        new_measure.version <> old_measure.version as is_new_version,
        changed_policy.measure_id is not null as is_new_policy,
    from new_measure
    inner join old_measure using (measure_id)
    left join changed_policy using (measure_id)
),

changed_state as (
    select
        measure_id,
        record_id,
        period,
    from new_state
    full join old_state using (measure_id, record_id, item, period)
    where new_state.state is distinct from old_state.state
        and period in (select period from old_month)
    group by measure_id, record_id, period
)

select
    changed_state.measure_id,
    changed_state.period as period_start,
    case
        when old_newborn.record_id is null then 'newborns_added'
        when new_newborn.record_id is null then 'newborns_gone'
        when (added_row.record_id is not null or gone_row.record_id is not null)
            and (measure_in_both.is_new_version or measure_in_both.is_new_policy) then 'not_told'
        when gone_row.record_id is not null and added_row.record_id is not null then 'corrected'
        when gone_row.record_id is not null then 'events_gone'
        when added_row.record_id is not null then 'events_added'
        when measure_in_both.is_new_version and measure_in_both.is_new_policy then 'not_told'
        when measure_in_both.is_new_version then 'new_version'
        when measure_in_both.is_new_policy then 'new_policy'
        when changed_answer.record_id is not null then 'answered'
        when changed_flag.record_id is not null and build.is_new_rule then 'new_rule'
        when build.is_new_unit_file then 'new_unit_file'
        when build.is_new_measure_file then 'same_version'
        else 'not_told'
    end as cause,
    count(*) as newborns,
from changed_state
inner join measure_in_both using (measure_id)
left join old_newborn using (record_id)
left join new_newborn using (record_id)
left join added_row using (record_id)
left join gone_row using (record_id)
left join changed_flag using (record_id)
left join changed_answer using (record_id)
cross join build
group by all
order by measure_id, period_start, cause
