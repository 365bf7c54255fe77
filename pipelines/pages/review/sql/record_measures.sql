-- one row per newborn of the month and measure whose record someone may want to read:
-- for a measure where higher is better, whatever was not met and is no exception;
-- for a measure of harm, the harm and what could not be judged
select
    membership.*,
    measure_info.title,
    measure_info.parent_id,
    measure_info.kind,
    measure_info.direction,
    measure_info.window_words,
    measure_info.position,
from membership
inner join measure_info on measure_info.measure_id = membership.measure_id
-- what the whole export is silent on asks for no single record
anti join silent_measure as silent
    on silent.unit = membership.unit and silent.measure_id = membership.measure_id
where membership.unit = $unit
    and membership.period = $month
    and case measure_info.direction
        when 'higher'
            then membership.state in ('late', 'not_done', 'not_met', 'not_documented', 'unusable')
        when 'lower' then membership.state in ('met', 'not_documented', 'unusable')
        else membership.state in ('not_documented', 'unusable')
    end
    -- how long it took is no reason to look at a record, nor is what is only described
    and measure_info.kind not in ('minutes', 'descriptive')
    -- the bands of one file read the same value: its absence is told by another measure
    and not (
        measure_info.kind = 'bands' and membership.state in ('not_documented', 'unusable')
    )
-- a reading in several bands of one file is told once, by the narrowest, which stands first
qualify
    measure_info.kind <> 'bands'
    or row_number() over (
        partition by membership.newborn_id, membership.item, measure_info.parent_id
        order by measure_info.position
    ) = 1
order by membership.record_id, measure_info.position, membership.item
