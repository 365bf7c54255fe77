-- one row: the months of birth that a fair-care page is about, up to eight whole quarters
with last_quarter as (
    select max(period_start) as starts,
    from result
    where unit = $unit and period_kind = 'quarter'
)

select
    min(newborn.birth_month) as first_month,
    max(newborn.birth_month) as last_month,
    count(*) as newborns,
from newborn
cross join last_quarter
where
    newborn.unit = $unit
    and newborn.birth_month > last_quarter.starts - interval 24 month
