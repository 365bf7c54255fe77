-- one row: what the unit's file says of the worklist and of how grave a miss is
select
    find_chart,
    gravity_approved_by as approved_by,
    gravity_approved_on as approved_on,
from unit_info
where unit = $unit
