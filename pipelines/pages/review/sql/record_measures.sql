-- one row per newborn of the month and measure whose record someone may want to read, with how
-- grave that is: for a measure where higher is better, whatever was not met and is no exception;
-- where lower is better, that it happened, and what could not be judged
select
    membership.*,
    measure_info.title,
    measure_info.parent_id,
    measure_info.kind,
    measure_info.direction,
    measure_info.window_words,
    measure_info.position,
    measure_info.value_unit,
    coalesce(of_grade.level, of_any.level) as level,
    coalesce(of_grade.why, of_any.why) as why,
from membership
inner join measure_info on measure_info.measure_id = membership.measure_id
left join gravity as of_grade
    on
        of_grade.unit = membership.unit
        and of_grade.measure_id = membership.measure_id
        and of_grade.state = membership.state
        and of_grade.grade = membership.grade
-- what a measure says of rows that have no grade of their own
inner join gravity as of_any
    on
        of_any.unit = membership.unit
        and of_any.measure_id = membership.measure_id
        and of_any.state = membership.state
        and of_any.grade = ''
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
