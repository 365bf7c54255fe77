-- Flags on a whole file or column: no record, no line, no value.
insert into judged.flag by name
select
    unit,
    cast(null as varchar) as record_id,
    table_name,
    cast(null as bigint) as row_id,
    source_file,
    cast(null as bigint) as source_line,
    column_name,
    cast(null as varchar) as recorded_value,
    rule_id,
    severity,
    explanation,
    suggestion,
from found
where row_id is null
order by unit, table_name, source_file, column_name, rule_id
