-- one row per measure, stratifier and stratum: how often the family declined, and how often
-- another listed reason set a newborn apart; a move or going home is nobody's reason ($ended)
with asked as (
    select
        membership.measure_id,
        coalesce(
            membership.state = 'exception' and starts_with(membership.reason, 'declined'), false
        ) as is_declined,
        membership.state = 'exception'
        and not coalesce(list_contains($ended, membership.reason), false) as is_exception,
        'all newborns' as everyone,
        coalesce(newborn.race_ethnicity, 'not recorded') as race_ethnicity,
        coalesce(newborn.language, 'not recorded') as language,
        coalesce(newborn.payer, 'not recorded') as payer,
    from membership
    anti join silent_measure as silent
        on silent.unit = membership.unit and silent.measure_id = membership.measure_id
    inner join newborn on newborn.newborn_id = membership.newborn_id
    where
        membership.unit = $unit
        and membership.state <> 'exclusion'
        and membership.period between $first and $last
),

split as (
    unpivot asked
    on everyone, race_ethnicity, language, payer
    into name stratifier value stratum
)

select
    measure_id,
    if(stratifier = 'everyone', 'all newborns', stratifier) as stratifier,
    stratum,
    count(*) as counted,
    count(*) filter (where is_declined) as declined,
    count(*) filter (where is_exception and not is_declined) as other_reason,
from split
group by measure_id, stratifier, stratum
order by measure_id, stratifier, stratum
