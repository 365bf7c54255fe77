create or replace table measure.membership (
    unit varchar,
    record_id varchar,
    newborn_id integer,
    measure_id varchar,
    item integer,
    period date,
    state varchar,
    minutes double,
    due_minutes double,
    reason varchar
);

create or replace table measure.result (
    measure_id varchar,
    unit varchar,
    period_kind varchar,
    period_start date,
    stratifier varchar,
    stratum varchar,
    initial_population bigint,
    exclusion bigint,
    denominator bigint,
    exception bigint,
    numerator bigint,
    late bigint,
    not_done bigint,
    not_met bigint,
    not_documented bigint,
    unusable bigint,
    rate double,
    lower double,
    upper double,
    if_none_met double,
    if_all_met double,
    target double
);

-- What each measure is, in words, for pages and the dictionary.
create or replace table measure.measure_info (
    measure_id varchar,
    parent_id varchar,
    title varchar,
    question varchar,
    group_name varchar,
    kind varchar,
    direction varchar,
    population varchar,
    numerator varchar,
    anchor varchar,
    window_words varchar,
    window_status varchar,
    exceptions varchar,
    exclusions varchar,
    missing varchar,
    target_words varchar,
    sources varchar,
    disagreement varchar,
    documentation_trap varchar,
    caution varchar,
    balancing varchar[],
    version varchar,
    position integer
);

create or replace table measure.unit_info (
    unit varchar,
    title varchar,
    time_form varchar,
    keep_birth_date boolean,
    unit_file_hash varchar,
    checks_off varchar[],
    checks_set varchar[]
);

create or replace table measure.change_log (
    unit varchar,
    change_id varchar,
    start_on date,
    title varchar,
    measures varchar[],
    balancing varchar[]
);

-- From when on a unit uses other numbers for a measure.
create or replace table measure.policy_break (
    unit varchar,
    measure_id varchar,
    start_on date,
    words varchar
);

create or replace table measure.target (
    measure_id varchar,
    unit varchar,
    valid_from date,
    valid_before date,
    target double
);

create or replace table measure.build_info (
    key varchar,
    value varchar
);
