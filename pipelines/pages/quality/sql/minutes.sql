-- one row per whole minute after birth: how many entries carry it; the first hour is left out,
-- for there true times cluster
select
    round(minutes)::bigint as value,
    count(*) as entries,
from event
where unit = $unit and minutes >= 60 and minutes < 1440
group by round(minutes)
order by value
