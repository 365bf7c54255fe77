-- one row per newborn and timed measure, born in the twelve months to the page's: when it was on
-- record, and for whoever has no time, until when the newborn was there to be seen
select
    membership.measure_id,
    membership.period as month,
    membership.state,
    -- a listed reason or an exclusion sets a newborn apart: its time would say nothing
    membership.state in ('exclusion', 'exception') as is_apart,
    membership.minutes,
    membership.due_minutes,
    way.here_until_minutes as left_minutes,
    case
        when newborn.mode_of_birth in ('vaginal', 'assisted_vaginal') then 'vaginal'
        when newborn.mode_of_birth in ('caesarean_planned', 'caesarean_unplanned')
            then 'caesarean'
        else 'not recorded'
    end as birth,
from membership
anti join silent_measure as silent
    on silent.unit = membership.unit and silent.measure_id = membership.measure_id
inner join newborn on newborn.newborn_id = membership.newborn_id
inner join way on way.newborn_id = membership.newborn_id
where
    membership.unit = $unit
    and membership.period > $month::date - interval 12 month
    and membership.period <= $month::date
    and membership.item = 1
    and list_contains($measures, membership.measure_id)
order by membership.measure_id, membership.newborn_id
