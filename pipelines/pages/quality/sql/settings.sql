-- one row: what the unit changed in the checks
select
    checks_off,
    checks_set,
from unit_info
where unit = $unit
