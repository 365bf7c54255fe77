-- one row per measure of shares and dated line that the unit wrote of one of its signals
select
    signal_line.measure_id,
    signal_line.said_on,
    signal_line.step,
    signal_line.level_from,
    signal_line.role,
    signal_line.reason,
from signal_line
inner join measure_info on signal_line.measure_id = measure_info.measure_id
where signal_line.unit = $unit
order by signal_line.said_on, signal_line.measure_id
