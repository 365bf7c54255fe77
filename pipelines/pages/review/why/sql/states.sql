-- one row per measure, split and level: states of newborns born in the twelve months to the page's
with placed as (
    select
        membership.measure_id,
        membership.state,
        membership.is_counted,
        coalesce(
            format('{:02d}:00 to {:02d}:59', newborn.birth_hour // 4 * 4, newborn.birth_hour // 4 * 4 + 3),
            'not recorded'
        ) as hour_of_birth,
        coalesce(cast(newborn.birth_weekday as varchar), 'not recorded') as weekday_of_birth,
        coalesce(newborn.mode_of_birth, 'not recorded') as mode_of_birth,
        coalesce(newborn.gestation_band, 'not recorded') as gestation_band,
        coalesce(newborn.birth_place, 'not recorded') as birth_place,
    from membership
    inner join newborn on newborn.newborn_id = membership.newborn_id
    where
        membership.unit = $unit
        and membership.state not in ('exclusion', 'exception')
        and membership.period > $month::date - interval 12 month
        and membership.period <= $month::date
        and list_contains($measures, membership.measure_id)
),

split as (
    unpivot placed
    on hour_of_birth, weekday_of_birth, mode_of_birth, gestation_band, birth_place
    into name split_by value level
)

select
    measure_id,
    split_by,
    level,
    count(*) as denominator,
    count(*) filter (where is_counted) as counted,
    count(*) filter (where state = 'met') as met,
    count(*) filter (where state = 'late') as late,
    count(*) filter (where state = 'not_done') as not_done,
    count(*) filter (where state = 'not_met') as not_met,
    count(*) filter (where state = 'not_documented') as not_documented,
    count(*) filter (where state = 'unusable') as unusable,
from split
group by measure_id, split_by, level
order by measure_id, split_by, level
