-- one row: the unit
select
    unit,
    title,
    time_form,
    keep_birth_date,
    unit_file_hash,
from unit_info
where unit = $unit
