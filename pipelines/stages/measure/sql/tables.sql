create type measure.state_name as enum (
    'met',
    'late',
    'not_done',
    'not_documented',
    'unusable',
    'not_met',
    'exception',
    'exclusion'
);

-- Unit, study key and month of birth stand once, in mart.newborn; the public view joins them.
create or replace table measure.membership (
    newborn_id integer,
    measure_id varchar,
    item integer,
    state measure.state_name,
    minutes double,
    due_minutes double,
    reason varchar,
    grade varchar,
    value double,
    value_minutes double,
    edge double,
    detail varchar
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
    counted bigint,
    missing_left_out boolean,
    rate double,
    lower double,
    upper double,
    if_none_met double,
    if_all_met double,
    target double
);

-- How long it took, for measures of kind minutes.
create or replace table measure.spread (
    measure_id varchar,
    unit varchar,
    period_kind varchar,
    period_start date,
    stratifier varchar,
    stratum varchar,
    measured bigint,
    not_measured bigint,
    median_minutes double,
    p90_minutes double
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
    look_at varchar[],
    version varchar,
    position integer,
    value_unit varchar,
    also_called varchar[]
);

-- Of each unit, the measures whose population hangs on a column that nobody there has usable.
create or replace table measure.missing_column (
    unit varchar,
    measure_id varchar,
    column_name varchar
);

-- How grave each state of a measure is in a unit; of rows of a grade of their own, the grade's.
create or replace table measure.gravity (
    unit varchar,
    measure_id varchar,
    grade varchar,
    state varchar,
    level varchar,
    place integer,
    why varchar,
    source varchar,
    is_default boolean
);

-- Of each measure, which states its rate is made of (FHIR: the denominator less exceptions), less
-- what is unknown where the measure leaves it out. Said here and nowhere else.
create or replace view measure.rate_state as
select
    measure_info.measure_id,
    known.state,
    measure_info.missing = 'left_out' as missing_left_out,
    known.state not in ('exclusion', 'exception')
    and not (missing_left_out and known.state in ('not_documented', 'unusable')) as is_counted,
from measure.measure_info as measure_info
cross join (select unnest(enum_range(cast(null as measure.state_name))) as state) as known;

create or replace table measure.unit_info (
    unit varchar,
    title varchar,
    time_form varchar,
    keep_birth_date boolean,
    unit_file_hash varchar,
    checks_off varchar[],
    checks_set varchar[],
    gravity_approved_by varchar,
    gravity_approved_on date,
    find_chart varchar,
    leading_measures varchar[]
);

create or replace table measure.change_log (
    unit varchar,
    change_id varchar,
    start_on date,
    title varchar,
    measures varchar[],
    balancing varchar[],
    process varchar[]
);

-- What people said of a signal, in the unit's file: one line a step.
create or replace table measure.signal_line (
    unit varchar,
    measure_id varchar,
    said_on date,
    step varchar,
    level_from date,
    role varchar,
    reason varchar
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

-- Every number in force, by birth date: the header's default, or what the unit set.
create or replace table measure.policy (
    unit varchar,
    measure_id varchar,
    name varchar,
    value varchar,
    valid_from date,
    valid_before date,
    is_default boolean
);

create or replace table measure.build_info (
    key varchar,
    value varchar
);

-- Numbers of whole months that a store showed earlier and this one counts differently.
create or replace table measure.restated (
    unit varchar,
    measure_id varchar,
    period_start date,
    noticed_at timestamp,
    shown_at timestamp,
    old_numerator bigint,
    new_numerator bigint,
    old_counted bigint,
    new_counted bigint,
    old_rate double,
    new_rate double,
    changed varchar,
    why varchar
);
