-- Words on no recode list that stand often enough to be words of the export, not slips.
with local as (
    select unit, table_name, column_name, string_agg(distinct local_column, ', ') as local_column
    from column_source
    where is_present
    group by all
)

select
    flag.unit,
    flag.table_name,
    flag.column_name,
    local.local_column,
    flag.recorded_value,
    cast(count(*) as bigint) as flags,
    arg_min(flag.source_file, (flag.source_file, flag.source_line)) as source_file,
    arg_min(flag.source_line, (flag.source_file, flag.source_line)) as source_line,
from flag
left join local using (unit, table_name, column_name)
where flag.rule_id = 'not_on_list'
group by all
having count(*) >= $least
order by flag.unit, flag.table_name, flag.column_name, flags desc, flag.recorded_value
