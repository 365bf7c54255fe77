-- one row per measure of how long it took, and month or whole quarter, up to the page's month
select
    spread.measure_id,
    measure_info.title,
    measure_info.question,
    measure_info.documentation_trap,
    measure_info.position,
    spread.period_kind,
    spread.period_start,
    spread.measured,
    spread.not_measured,
    spread.median_minutes,
    spread.p90_minutes,
from spread
inner join measure_info on measure_info.measure_id = spread.measure_id
anti join silent_measure as silent
    on silent.unit = spread.unit and silent.measure_id = spread.measure_id
where
    spread.unit = $unit
    and spread.stratifier = 'all newborns'
    and (
        (
            spread.period_kind = 'month'
            and spread.period_start > $month::date - interval 24 month
            and spread.period_start <= $month::date
        )
        or (
            spread.period_kind = 'quarter'
            and spread.period_start > $month::date - interval 26 month
            and spread.period_start + interval 2 month <= $month::date
        )
    )
order by measure_info.position, spread.measure_id, spread.period_kind, spread.period_start
