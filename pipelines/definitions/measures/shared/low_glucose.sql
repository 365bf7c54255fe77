-- one row per episode of low glucose: from a reading below the limit, where the one before was not
-- reads setting: low_below_mg_dl, at_most
with reading as (
    select
        newborn_id as newborn_id,
        minutes as minutes,
        min(value) as value_mg_dl,
    from mart.event
    where kind = 'glucose' and is_usable
    group by newborn_id, minutes
),

in_order as (
    select
        reading.newborn_id as newborn_id,
        reading.minutes as minutes,
        reading.value_mg_dl as value_mg_dl,
        reading.value_mg_dl < setting.low_below_mg_dl as is_low,
        lag(is_low) over so_far as was_low,
        lead(reading.minutes) over so_far as next_minutes,
        min(if(is_low, null, reading.minutes)) over (
            partition by reading.newborn_id
            order by reading.minutes
            rows between current row and unbounded following
        ) as ended_minutes,
    from reading
    inner join setting on setting.newborn_id = reading.newborn_id
    window so_far as (partition by reading.newborn_id order by reading.minutes)
),

episode as (
    select
        in_order.newborn_id as newborn_id,
        row_number() over (
            partition by in_order.newborn_id order by in_order.minutes
        ) as item,
        in_order.minutes as began_minutes,
        in_order.value_mg_dl as began_mg_dl,
        setting.low_below_mg_dl as edge_mg_dl,
        in_order.next_minutes as next_minutes,
        in_order.ended_minutes as ended_minutes,
        in_order.minutes + setting.at_most as closes_minutes,
    from in_order
    inner join setting on setting.newborn_id = in_order.newborn_id
    where in_order.is_low and not coalesce(in_order.was_low, false)
)

select
    episode.*,
    episode.next_minutes is not null as is_usable,
    -- A reading that cannot be placed or believed may have been the next.
    bool_or(
        episode.next_minutes is not null
        or (
            not other.is_usable
            and (other.minutes is null or other.minutes > episode.began_minutes)
        )
    ) as is_documented,
from episode
inner join mart.event as other
    on other.newborn_id = episode.newborn_id and other.kind = 'glucose'
group by all
