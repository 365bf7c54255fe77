-- one row per newborn: the first temperature of the body in the window after arrival in the unit
-- reads setting: skin_counts, arrival_window_minutes
with arrival as (
    select
        newborn.newborn_id as newborn_id,
        -- Of a newborn born here, arrival in another room; birth where it stayed in one.
        case
            when way.born <> 'here' then way.arrived_minutes
            when not list_contains(newborn.unusable, 'arrival_minutes')
                then coalesce(newborn.arrival_minutes, way.arrived_minutes)
        end as opens_minutes,
        -- Nobody arrives before birth, so an unknown window closes no sooner than this.
        coalesce(opens_minutes, 0) + setting.arrival_window_minutes as closes_minutes,
    from mart.newborn as newborn
    inner join mart.way as way on way.newborn_id = newborn.newborn_id
    inner join setting on setting.newborn_id = newborn.newborn_id
),

first_reading as (
    select
        reading.newborn_id as newborn_id,
        min(reading.minutes) filter (
            where reading.is_usable and arrival.opens_minutes is not null
        ) as minutes,
        first(reading.value order by reading.minutes, reading.value) filter (
            where reading.is_usable and arrival.opens_minutes is not null
        ) as value_c,
    from body_temperature as reading
    inner join arrival on arrival.newborn_id = reading.newborn_id
    where
        reading.minutes is null
        or arrival.opens_minutes is null
        or reading.minutes between arrival.opens_minutes and arrival.closes_minutes
    group by reading.newborn_id
)

select
    arrival.newborn_id as newborn_id,
    first_reading.newborn_id is not null as is_documented,
    first_reading.value_c is not null as is_usable,
    first_reading.minutes as minutes,
    first_reading.value_c as value_c,
    arrival.closes_minutes as closes_minutes,
from arrival
left join first_reading on first_reading.newborn_id = arrival.newborn_id
