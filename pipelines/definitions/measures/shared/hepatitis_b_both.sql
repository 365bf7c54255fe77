-- one row per newborn: vaccine and immune globulin together, where both are needed by at_most
-- reads setting: status_read_minutes, blank_route_counts, at_most
with needed as (
    select
        agent.*,
        coalesce(agent.given_minutes <= setting.at_most, false) as is_in_time,
    from hepatitis_b_agent as agent
    inner join setting on setting.newborn_id = agent.newborn_id
)

select
    newborn_id as newborn_id,
    any_value(mother) as mother,
    any_value(weight_g) as weight_g,
    bool_and(is_in_time or is_declined) as is_in_time_or_declined,
    bool_or(is_declined) as is_any_declined,
    bool_or(is_declined and not is_in_time) as is_missed_declined,
    -- Recorded as not done only where that explains every dose that was not given.
    if(
        bool_and(is_given or not_done_reason is not null), min(not_done_reason), null
    ) as not_done_reason,
    bool_and(has_row) as is_documented,
    bool_and(is_clear) as is_usable,
    if(bool_and(given_minutes is not null), max(given_minutes), null) as minutes,
from needed
group by newborn_id
