-- one row per column of newborns and month of birth: the mean of a number that a change's log names
-- to show that it was carried out
with wide as (
    select
        birth_month as month,
        columns(lambda c: list_contains($columns, c))::double,
    from newborn
    where unit = $unit and live_birth and birth_month <= $month::date
)

select
    measure_id,
    month,
    '' as name,
    '' as value_unit,
    count(value) as readings,
    avg(value) as mean,
    stddev_samp(value) as spread,
from (unpivot wide on columns(* exclude month) into name measure_id value value)
group by all
order by measure_id, month
