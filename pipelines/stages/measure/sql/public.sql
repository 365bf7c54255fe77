-- The names that readers may rely on.
create view newborn as select * from mart.newborn;

create view way as
select
    newborn.unit,
    newborn.record_id,
    way.*,
from mart.way as way
inner join mart.newborn as newborn using (newborn_id);

create view event as
select
    newborn.unit,
    newborn.record_id,
    event.*,
from mart.event as event
inner join mart.newborn as newborn using (newborn_id);

create view flag as
select
    flag.unit,
    flag.record_id,
    flag.table_name,
    flag.source_file,
    flag.source_line,
    flag.column_name,
    event.kind,
    flag.recorded_value,
    flag.rule_id,
    flag.severity,
    flag.explanation,
    flag.suggestion,
    flag.answer,
    flag.answered_by,
    flag.answer_reason,
from judged.flag as flag
left join mart.event as event
    on flag.row_id = event.event_id and flag.table_name = event.table_name;

create view answer as select * from judged.answer;

create view cause_review as select * from judged.cause_review;

create view worklist_line as select * from judged.worklist_line;

create view completeness as select * from judged.completeness;

create view verdict as select * from judged.verdict;

create view rejected as select * from typed.rejected;

create view load_log as select * from typed.load_log;

create view column_source as select * from typed.column_source;

create view membership as
select
    newborn.unit,
    newborn.record_id,
    membership.newborn_id,
    membership.measure_id,
    membership.item,
    newborn.birth_month as period,
    cast(membership.state as varchar) as state,
    rate_state.is_counted,
    membership.minutes,
    membership.due_minutes,
    membership.reason,
    membership.grade,
    membership.value,
    membership.value_minutes,
    membership.edge,
    membership.detail,
from measure.membership as membership
inner join mart.newborn as newborn on newborn.newborn_id = membership.newborn_id
left join measure.rate_state as rate_state
    on rate_state.measure_id = membership.measure_id and rate_state.state = membership.state;

create view result as select * from measure.result;

-- A measure of which the whole store has no usable record that it was done, for anyone (fewer than
-- ten newborns say nothing): the export lacks it, or nobody writes it down. Its rate would read as
-- none, or all, and be neither. So too a measure of which no newborn has the column that says whom
-- it is about: it would be about everybody, or nobody.
create view silent_measure as
with counted as (
    select
        unit,
        measure_id,
        denominator,
        not_documented,
        unusable,
        numerator + late + not_met = 0
        and not_documented + unusable >= 10
        and not_documented + unusable > not_done as is_silent,
    from measure.result
    where period_kind = 'all' and stratifier = 'all newborns'
)

select
    unit,
    measure_id,
    coalesce(counted.denominator, 0) as denominator,
    coalesce(counted.not_documented, 0) as not_documented,
    coalesce(counted.unusable, 0) as unusable,
    missing.column_name as missing_column,
from counted
full join measure.missing_column as missing using (unit, measure_id)
where missing.column_name is not null or counted.is_silent;

create view spread as select * from measure.spread;

create view as_recorded as select * from measure.as_recorded;

create view measure_info as select * from measure.measure_info;

create view gravity as select * from measure.gravity;

create view unit_info as select * from measure.unit_info;

create view finding_tier as select * from typed.finding_tier;

create view change_log as select * from measure.change_log;

create view signal_line as select * from measure.signal_line;

create view policy as select * from measure.policy;

create view policy_break as select * from measure.policy_break;

create view build_info as select * from measure.build_info;

create view restated as select * from measure.restated;
