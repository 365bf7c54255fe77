-- one row per worklist of this month and the month before that came back, and outcome (null: open);
-- a line that was not read counts as open, and one of a newborn who is not here not at all
with line as (
    select
        month,
        record_id,
        max(outcome) as outcome,
    from worklist_line
    where unit = $unit
        and month in ($month, cast($month - interval 1 month as date))
        and exists (
            select 1
            from newborn
            where newborn.unit = worklist_line.unit
                and newborn.record_id = worklist_line.record_id
        )
    group by month, record_id
)

select
    month,
    outcome,
    count(*) as newborns,
from line
group by month, outcome
order by month, outcome
