-- Where most entries of a column (of one kind of event) carry the same flag, it is rarely the
-- newborns: one row per column, kind and rule.
with recorded as (
    select unit, table_name, kind, column_name, cast(sum(recorded) as bigint) as recorded
    from completeness
    where shift = 'all' and column_name <> 'kind'
    group by all
),

flagged as (
    select
        unit,
        table_name,
        kind,
        column_name,
        rule_id,
        cast(count(*) as bigint) as flags,
        mode(explanation) as explanation,
        mode(recorded_value) as recorded_value,
    from flag
    where source_line is not null and severity in ('error', 'query') and rule_id <> 'not_on_list'
    group by all
),

-- Of a newborn without a readable birth nothing is counted: then every row is the measure.
newborns as (
    select unit, cast(count(*) as bigint) as newborns
    from newborn
    group by unit
),

local as (
    select unit, table_name, column_name, string_agg(distinct local_column, ', ') as local_column
    from column_source
    where is_present
    group by all
)

select
    flagged.unit,
    flagged.table_name,
    flagged.kind,
    flagged.column_name,
    local.local_column,
    flagged.rule_id,
    flagged.flags,
    flagged.explanation,
    flagged.recorded_value,
from flagged
inner join newborns using (unit)
left join recorded
    on
        recorded.unit = flagged.unit
        and recorded.table_name = flagged.table_name
        and recorded.kind is not distinct from flagged.kind
        and recorded.column_name = flagged.column_name
left join local
    on
        local.unit = flagged.unit
        and local.table_name = flagged.table_name
        and local.column_name = flagged.column_name
where flagged.flags >= $least and 2 * flagged.flags >= coalesce(recorded.recorded, newborns.newborns)
order by flagged.unit, flagged.table_name, flagged.flags desc, flagged.column_name, flagged.kind
