-- one row per cause review of the unit
select
    record_id,
    cause,
from cause_review
where unit = $unit
