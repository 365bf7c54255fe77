-- one row per episode of cold: from a reading below the edge, where the one before was not
-- reads setting: skin_counts, lower_edge_c, at_most
select
    newborn_id as newborn_id,
    row_number() over (partition by newborn_id order by item) as item,
    began_minutes as began_minutes,
    began_c as began_c,
    grade as grade,
    next_minutes as next_minutes,
    closes_minutes as closes_minutes,
    is_moved as is_moved,
    is_documented as is_documented,
from cold_reading
where begins_episode
