-- one row per measure and span: counts with flagged values masked, and as recorded
with month_count as (
    select
        result.measure_id,
        result.period_start as month,
        result.denominator,
        result.not_documented,
        result.unusable,
        result.numerator,
        result.counted,
        recorded.numerator as recorded_numerator,
        recorded.counted as recorded_counted,
        recorded.unusable as recorded_unusable,
    from result
    left join as_recorded as recorded
        on result.measure_id = recorded.measure_id
        and result.unit = recorded.unit
        and result.period_kind = recorded.period_kind
        and result.period_start = recorded.period_start
        and result.stratifier = recorded.stratifier
        and result.stratum = recorded.stratum
    where
        result.unit = $unit
        and result.period_kind = 'month'
        and result.stratifier = 'all newborns'
),

spanned as (
    select
        *,
        unnest(
            if(
                month between $since::date and $month::date,
                ['last 12 months', 'all months'],
                ['all months']
            )
        ) as span,
    from month_count
)

select
    spanned.span,
    spanned.measure_id,
    info.parent_id,
    info.title,
    info.kind,
    any_value(silent.measure_id) is not null as is_silent,
    sum(spanned.denominator)::bigint as denominator,
    sum(spanned.not_documented)::bigint as not_documented,
    sum(spanned.unusable)::bigint as unusable,
    sum(spanned.numerator)::bigint as numerator,
    sum(spanned.counted)::bigint as counted,
    sum(spanned.recorded_numerator)::bigint as recorded_numerator,
    sum(spanned.recorded_counted)::bigint as recorded_counted,
    sum(spanned.recorded_unusable)::bigint as recorded_unusable,
    sum(spanned.numerator) / nullif(sum(spanned.counted), 0) as rate,
    sum(spanned.recorded_numerator) / nullif(sum(spanned.recorded_counted), 0) as recorded_rate,
from spanned
inner join measure_info as info using (measure_id)
left join silent_measure as silent
    on silent.unit = $unit and silent.measure_id = spanned.measure_id
group by spanned.span, spanned.measure_id, info.parent_id, info.title, info.kind, info.position
order by info.position, spanned.measure_id, spanned.span
