-- one row per fact of the build, and the file of the unit it was built with
select
    key,
    value,
from build_info
union all
select
    'unit_file_hash' as key,
    unit_file_hash as value,
from unit_info
where unit = $unit
order by key
