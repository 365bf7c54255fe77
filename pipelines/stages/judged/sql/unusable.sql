-- One row per typed row that has an unusable cell. A code on no list has no canonical value,
-- so it is unusable whatever its severity: recorded, yet not readable, is not "not documented".
create or replace table judged.unusable as
with cell as (
    select
        table_name,
        row_id,
        column_name,
    from judged.flag
    where
        row_id is not null
        -- What the unit answered goes before what a rule supposed.
        and (
            answer = 'wrong'
            or (severity = 'error' and answer is distinct from 'confirmed')
        )
    union all
    select
        table_name,
        row_id,
        column_name,
    from misfit
)

select
    table_name,
    row_id,
    list_sort(list(distinct column_name)) as unusable,
from cell
group by table_name, row_id
