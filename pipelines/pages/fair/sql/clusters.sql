-- one row per measure whose rows are many to a newborn: how much wider its interval must be.
-- design: variance of the rate with newborns as the unit, over the variance if every row stood
-- for itself (Rao and Scott, Biometrics 1992;48:577)
with counted as (
    select
        membership.measure_id,
        membership.newborn_id,
        count(*) as rows_counted,
        count(*) filter (where membership.state = 'met') as rows_met,
    from membership
    inner join measure_info on measure_info.measure_id = membership.measure_id
    where
        membership.unit = $unit
        and membership.period between $first and $last
        and list_contains($kinds, measure_info.kind)
        and membership.is_counted
    group by membership.measure_id, membership.newborn_id
),

totals as (
    select
        measure_id,
        sum(rows_met) / sum(rows_counted) as rate,
        sum(rows_counted) as all_rows,
        count(*) as newborns,
    from counted
    group by measure_id
)

select
    counted.measure_id,
    any_value(totals.newborns / (totals.newborns - 1.0))
    * sum((counted.rows_met - totals.rate * counted.rows_counted) ** 2)
    / any_value(totals.all_rows * totals.rate * (1 - totals.rate)) as design,
from counted
inner join totals on totals.measure_id = counted.measure_id
where totals.newborns > 1 and totals.rate > 0 and totals.rate < 1
group by counted.measure_id
order by counted.measure_id
