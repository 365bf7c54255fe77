-- one row per newborn of the month: what helps to find the chart, and no clock time
select
    record_id,
    shift,
    row_number() over (order by birth_order nulls last, newborn_id) as place,
    count(*) over () as newborns,
from newborn
where unit = $unit and birth_month = $month
order by place
