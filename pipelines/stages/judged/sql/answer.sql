-- Answers laid on flags. One row per answer, with what it matched; the flag keeps its history.
create or replace table judged.answer as
with matched as (
    select
        given_answer.unit,
        given_answer.file_line,
        count(*) as flags,
    from given_answer
    inner join judged.flag as flag
        on given_answer.unit = flag.unit
        and given_answer.record_id = flag.record_id
        and given_answer.column_name = flag.column_name
        and (given_answer.table_name is null or given_answer.table_name = flag.table_name)
        and (
            given_answer.recorded_value is null
            or given_answer.recorded_value = flag.recorded_value
        )
        and (given_answer.source_line is null or given_answer.source_line = flag.source_line)
    group by given_answer.unit, given_answer.file_line
)

select
    given_answer.*,
    coalesce(matched.flags, 0) as flags,
from given_answer
left join matched using (unit, file_line)
order by given_answer.unit, given_answer.file_line;

update judged.flag as flag
set
    answer = given_answer.decision,
    answered_by = given_answer.role,
    answer_reason = given_answer.why
from judged.answer as given_answer
where
    given_answer.unit = flag.unit
    and given_answer.record_id = flag.record_id
    and given_answer.column_name = flag.column_name
    and (given_answer.table_name is null or given_answer.table_name = flag.table_name)
    and (
        given_answer.recorded_value is null
        or given_answer.recorded_value = flag.recorded_value
    )
    and (given_answer.source_line is null or given_answer.source_line = flag.source_line);
