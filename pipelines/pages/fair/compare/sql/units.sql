-- one row per unit of the store, in a fixed order
select
    unit,
    title,
from unit_info
order by title, unit
