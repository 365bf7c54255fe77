-- one row per episode of cold: from a reading below the edge, where the one before was not
-- reads setting: skin_counts, lower_edge_c, at_most
with in_order as (
    select
        reading.newborn_id as newborn_id,
        reading.minutes as minutes,
        reading.value_c as value_c,
        reading.value_c < setting.lower_edge_c as is_cold,
        lag(is_cold) over so_far as was_cold,
        lead(reading.minutes) over so_far as next_minutes,
    from lowest_temperature as reading
    inner join setting on setting.newborn_id = reading.newborn_id
    window so_far as (partition by reading.newborn_id order by reading.minutes)
),

episode as (
    select
        in_order.newborn_id as newborn_id,
        row_number() over (partition by in_order.newborn_id order by in_order.minutes) as item,
        in_order.minutes as began_minutes,
        in_order.value_c as began_c,
        -- As the bands of arrival_cold; what lies between them has no grade of its own.
        case
            when in_order.value_c < 32.0 then 'severe'
            when in_order.value_c >= 36.0 then 'mild'
        end as grade,
        in_order.next_minutes as next_minutes,
        in_order.minutes + setting.at_most as closes_minutes,
    from in_order
    inner join setting on setting.newborn_id = in_order.newborn_id
    where in_order.is_cold and not coalesce(in_order.was_cold, false)
),

unreadable as (
    select distinct
        episode.newborn_id as newborn_id,
        episode.item as item,
    from episode
    inner join temperature_here as reading on reading.newborn_id = episode.newborn_id
    where
        not reading.is_usable
        and (
            reading.minutes is null
            or (
                reading.minutes > episode.began_minutes
                and reading.minutes <= episode.closes_minutes
            )
        )
)

select
    episode.newborn_id as newborn_id,
    episode.item as item,
    episode.began_minutes as began_minutes,
    episode.began_c as began_c,
    episode.grade as grade,
    episode.next_minutes as next_minutes,
    episode.closes_minutes as closes_minutes,
    episode.next_minutes is not null or unreadable.item is not null as is_documented,
from episode
left join unreadable
    on
        unreadable.newborn_id = episode.newborn_id
        and unreadable.item = episode.item
