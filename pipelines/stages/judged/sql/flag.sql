-- One row per flag: on a value, or (record_id null) on a whole file or column.
create schema if not exists judged;

create or replace table judged.flag (
    unit varchar,
    record_id varchar,
    table_name varchar,
    row_id bigint,
    source_file varchar,
    source_line bigint,
    column_name varchar,
    recorded_value varchar,
    rule_id varchar,
    severity varchar,
    explanation varchar,
    suggestion varchar,
    answer varchar,
    answered_by varchar,
    answer_reason varchar
);
