-- One row per cause review that a unit gave; is_found says whether its newborn is in this load.
create or replace table judged.cause_review as
select
    given_review.unit,
    given_review.record_id,
    given_review.cause,
    given_review.role,
    given_review.file_line,
    admission.record_id is not null as is_found,
from given_review
left join typed.admission as admission
    on given_review.unit = admission.unit and given_review.record_id = admission.record_id
order by given_review.unit, given_review.file_line;
