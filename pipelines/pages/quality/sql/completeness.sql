-- one row per column, kind or column of a kind and month of birth
select
    table_name,
    kind,
    column_name,
    month,
    newborns,
    total,
    recorded,
    usable,
from completeness
where unit = $unit and shift = 'all'
order by table_name, kind, column_name, month
