-- one row per cold reading (one minute is one reading): the reading after it, and whether an
-- episode of cold begins with it, for the one before was not cold
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

cold as (
    select
        in_order.newborn_id as newborn_id,
        row_number() over (partition by in_order.newborn_id order by in_order.minutes) as item,
        not coalesce(in_order.was_cold, false) as begins_episode,
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
    where in_order.is_cold
),

unreadable as (
    select distinct
        cold.newborn_id as newborn_id,
        cold.item as item,
    from cold
    inner join temperature_here as reading on reading.newborn_id = cold.newborn_id
    where
        not reading.is_usable
        and (
            reading.minutes is null
            or (
                reading.minutes > cold.began_minutes
                and reading.minutes <= cold.closes_minutes
            )
        )
)

select
    cold.newborn_id as newborn_id,
    cold.item as item,
    cold.begins_episode as begins_episode,
    cold.began_minutes as began_minutes,
    cold.began_c as began_c,
    cold.grade as grade,
    cold.next_minutes as next_minutes,
    cold.closes_minutes as closes_minutes,
    cold.next_minutes is not null or unreadable.item is not null as is_documented,
from cold
left join unreadable
    on
        unreadable.newborn_id = cold.newborn_id
        and unreadable.item = cold.item
