-- one row per measure and month of birth: the mean of the reading that its state rests on or, where
-- it has none, of the logarithm of the minutes it took (skewed: most are done soon, few very late);
-- of those whom the rate counts and of whom it is known
with reading as (
    select
        membership.measure_id,
        membership.period as month,
        measure_info.title as name,
        coalesce(measure_info.value_unit, 'min') as value_unit,
        if(
            measure_info.value_unit is null,
            -- before a minute has passed it took a minute
            if(measure_info.window_words is null, null, ln(greatest(membership.minutes, 1))),
            membership.value
        ) as value,
    from membership
    inner join measure_info using (measure_id)
    where
        membership.unit = $unit
        and membership.period <= $month::date
        and membership.is_counted
        and list_contains($measures::varchar[], membership.measure_id)
)

select
    measure_id,
    month,
    name,
    value_unit,
    count(value) as readings,
    avg(value) as mean,
    stddev_samp(value) as spread,
from reading
where value is not null
group by all
order by measure_id, month
