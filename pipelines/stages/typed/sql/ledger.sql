-- What the loading itself says; one row per file, per rejected row, per mapped column.
create table typed.load_log (
    unit varchar,
    source_file varchar,
    content_hash varchar,
    rows_in bigint,
    rows_kept bigint,
    rows_rejected bigint,
    loaded_at timestamp,
    note varchar
);

create table typed.rejected (
    unit varchar,
    source_file varchar,
    source_line bigint,
    reason varchar
);

create table typed.column_source (
    unit varchar,
    table_name varchar,
    column_name varchar,
    source_file varchar,
    local_column varchar,
    is_present boolean
);

-- The unit of measurement of a value, by its kind, as the contract says.
create table typed.kind_unit (
    kind varchar,
    unit varchar
);

-- What the units' files themselves call things: such a word of an export may be said.
create table typed.declared_word (
    word varchar
);
