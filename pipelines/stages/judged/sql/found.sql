-- What the checks find, before it is joined to the record and the recorded text.
-- Either row_id is given (a value) or unit and source_file (a whole file or column).
create or replace temp table found (
    rule_id varchar,
    table_name varchar,
    row_id bigint,
    unit varchar,
    source_file varchar,
    column_name varchar,
    severity varchar,
    explanation varchar,
    suggestion varchar
);

-- The cells the typed stage could not read, or found on no recode list. Read once: typed
-- gives them as views over every row, and many checks ask for a part.
create or replace temp table misfit as
select
    'unreadable' as misfit,
    table_name,
    row_id,
    column_name,
from typed.unreadable
union all
select
    'unmapped' as misfit,
    table_name,
    row_id,
    column_name,
from typed.unmapped;
