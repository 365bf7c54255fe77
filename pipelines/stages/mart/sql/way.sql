-- One row per newborn: its way from birth on, told once. Where it was born, from when on it was
-- here, each thing that ended or changed its stay, and until when it was here to be seen.
-- What is on record without a time stands before every window, at minute -1.
create table mart.way as
with began as (
    select
        newborn_id,
        coalesce(min(minutes) filter (where kind = 'comfort_care'), -1) as comfort_care_minutes,
        coalesce(min(minutes) filter (where kind = 'cooling'), -1) as cooling_minutes,
        bool_or(kind = 'comfort_care') as has_comfort_care,
        bool_or(kind = 'cooling') as has_cooling,
    from judged.care
    where
        kind in ('comfort_care', 'cooling')
        and coalesce(status, 'done') = 'done'
    group by newborn_id
),

stay as (
    select
        newborn_id,
        case birth_place
            when 'before_arrival' then 'on_the_way'
            when 'other_site' then 'elsewhere'
            else 'here'
        end as born,
        if(born = 'here', 0, arrival_minutes) as arrived_minutes,
        discharge_minutes as left_minutes,
        case
            when disposition = 'died' then 'died'
            when disposition = 'transfer' then 'moved'
            when discharge_minutes is not null or disposition = 'home' then 'home'
        end as left_how,
    from judged.admission
),

-- A move is a care item or how the stay ended. The journey that brought a newborn is none.
move as (
    select
        care.newborn_id,
        care.minutes,
    from judged.care as care
    inner join stay on stay.newborn_id = care.newborn_id
    where
        care.kind = 'transfer'
        and (
            care.status = 'done'
            or (
                care.status is null
                and care.minutes is not null
                and not list_contains(care.unusable, 'status')
            )
        )
        and not coalesce(stay.born <> 'here' and care.minutes <= stay.arrived_minutes, false)
    union all
    select
        newborn_id,
        left_minutes as minutes,
    from stay
    where left_how = 'moved'
),

first_move as (
    select
        newborn_id,
        coalesce(min(minutes), -1) as moved_minutes,
    from move
    group by newborn_id
)

select
    stay.newborn_id,
    stay.born,
    stay.arrived_minutes,
    first_move.moved_minutes,
    stay.left_minutes,
    stay.left_how,
    if(stay.left_how = 'home', stay.left_minutes, null) as home_minutes,
    if(stay.left_how = 'died', coalesce(stay.left_minutes, -1), null) as died_minutes,
    if(began.has_comfort_care, began.comfort_care_minutes, null) as comfort_care_minutes,
    if(began.has_cooling, began.cooling_minutes, null) as cooling_minutes,
    least(nullif(first_move.moved_minutes, -1), stay.left_minutes) as here_until_minutes,
from stay
left join began on began.newborn_id = stay.newborn_id
left join first_move on first_move.newborn_id = stay.newborn_id
order by stay.newborn_id
