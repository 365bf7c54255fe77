-- one row per fact of the build
select
    key,
    value,
from build_info
order by key
