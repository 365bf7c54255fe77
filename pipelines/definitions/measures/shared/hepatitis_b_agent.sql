-- one row per newborn and agent against hepatitis B (vaccine, immune globulin): what is on record
-- of it, and the mother's status as it was known in time
-- reads setting: status_read_minutes, blank_route_counts
with each_dose as (
    select
        event.*,
        -- Null where the record does not say.
        case
            when event.route is not null then event.route = 'intramuscular'
            when
                setting.blank_route_counts
                and not coalesce(list_contains(event.unusable, 'route'), false)
                then true
        end as is_into_muscle,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where event.kind in ('hepatitis_b_vaccine', 'hepatitis_b_immune_globulin')
),

dose as (
    select
        newborn_id as newborn_id,
        kind as kind,
        min(minutes) filter (where status = 'given' and is_into_muscle) as given_minutes,
        -- Given, and by its route or time perhaps the dose we look for.
        bool_or(
            status = 'given'
            and coalesce(is_into_muscle, true)
            and (is_into_muscle is null or minutes is null)
        ) as may_be_given,
        coalesce(bool_or(status = 'given'), false) as is_given,
        coalesce(bool_or(status = 'refused' or (status = 'held' and reason = 'declined')), false)
            as is_declined,
        coalesce(bool_or(status = 'held' and reason = 'unstable'), false) as is_unstable,
        min(coalesce(reason, if(status = 'refused', 'declined', 'no reason recorded'))) filter (
            where status in ('refused', 'held')
        ) as held_reason,
    from each_dose
    group by newborn_id, kind
)

select
    newborn.newborn_id as newborn_id,
    agent.kind as kind,
    case
        when
            list_has_any(
                newborn.unusable, ['maternal_hepatitis_b', 'maternal_hepatitis_b_minutes']
            )
            then 'unreadable'
        when
            newborn.maternal_hepatitis_b in ('positive', 'negative')
            and coalesce(newborn.maternal_hepatitis_b_minutes, -1) <= setting.status_read_minutes
            then newborn.maternal_hepatitis_b
        else 'unknown'
    end as mother,
    coalesce(newborn.maternal_hepatitis_b = 'positive', false) as is_found_positive,
    newborn.weight_g as weight_g,
    dose.newborn_id is not null as has_row,
    dose.given_minutes as given_minutes,
    coalesce(dose.is_given, false) as is_given,
    coalesce(
        dose.given_minutes is not null or (dose.is_given and not dose.may_be_given), false
    ) as is_clear,
    coalesce(dose.is_declined, false) as is_declined,
    coalesce(dose.is_unstable, false) as is_unstable,
    if(dose.is_given, null, dose.held_reason) as not_done_reason,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
cross join (
    values ('hepatitis_b_vaccine'), ('hepatitis_b_immune_globulin')
) as agent (kind)
left join dose on dose.newborn_id = newborn.newborn_id and dose.kind = agent.kind
