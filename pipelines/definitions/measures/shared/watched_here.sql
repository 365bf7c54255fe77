-- one row per newborn: until when it was here to be watched, and whether it was moved at a time that
-- is not known. A death is no end of the watch: the engine sets it apart.
select
    newborn_id as newborn_id,
    if(left_how = 'died', nullif(moved_minutes, -1), here_until_minutes) as away_minutes,
    moved_minutes = -1 as is_moved_untimed,
from mart.way
