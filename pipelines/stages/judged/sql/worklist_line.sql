-- One row per line of the worklists that came back. A line whose newborn is not in this load, or
-- was born in another month, is rejected too.
create or replace table judged.worklist_line as
select
    given_line.unit,
    given_line.record_id,
    try_cast(given_line.month || '-01' as date) as month,
    if(admission.record_id is null, null, given_line.outcome) as outcome,
    given_line.note,
    given_line.role,
    try_cast(given_line.read_on as date) as read_on,
    given_line.file_name,
    given_line.file_line,
    coalesce(
        given_line.rejected,
        if(
            admission.record_id is null,
            'no newborn of this load has the study key and was born in that month',
            null
        )
    ) as rejected,
from given_line
left join typed.admission as admission
    on given_line.unit = admission.unit
    and given_line.record_id = admission.record_id
    and try_cast(given_line.month || '-01' as date) = admission.birth_month
order by given_line.unit, given_line.file_name, given_line.file_line;
