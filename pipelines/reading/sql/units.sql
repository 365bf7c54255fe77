-- one row per unit in the store
select
    unit,
    title,
from unit_info
order by unit
