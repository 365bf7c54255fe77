-- One row per unit, what is counted (an admission column, a kind of event, or a column of a kind
-- of event), shift and month of birth. newborn_in_month and filled are made by completeness.py.
create or replace table judged.completeness as
with month_total as (
    select
        unit,
        month,
        coalesce(shift, 'all') as shift,
        count(*) as newborns,
    from newborn_in_month
    group by grouping sets ((unit, month), (unit, month, shift))
    -- A newborn without an hour of birth counts in no shift.
    having grouping(shift) = 1 or shift is not null
),

mapped as (
    select distinct
        unit,
        table_name,
        column_name,
    from typed.column_source
),

-- What is expected of a unit: its mapped admission columns, the kinds it has ever sent.
expected as (
    select
        unit,
        table_name,
        cast(null as varchar) as kind,
        column_name,
        'all' as shift,
    from mapped
    where table_name = 'admission' and column_name in (select column_name from filled)
    union all
    select distinct
        unit,
        table_name,
        kind,
        column_name,
        unnest(['all', 'day', 'night']) as shift,
    from filled
    where column_name = 'kind'
),

of_newborns as (
    select
        expected.unit,
        expected.table_name,
        expected.kind,
        expected.column_name,
        expected.shift,
        month_total.month,
        month_total.newborns,
        month_total.newborns as total,
        coalesce(filled.recorded, 0) as recorded,
        coalesce(filled.usable, 0) as usable,
    from expected
    inner join month_total
        on expected.unit = month_total.unit and expected.shift = month_total.shift
    left join filled
        on expected.unit = filled.unit
        and expected.table_name = filled.table_name
        and expected.kind is not distinct from filled.kind
        and expected.column_name = filled.column_name
        and expected.shift = filled.shift
        and month_total.month = filled.month
),

-- A column that a kind has never had is not expected of it: a temperature has no route.
of_rows as (
    select
        filled.unit,
        filled.table_name,
        filled.kind,
        filled.column_name,
        filled.shift,
        filled.month,
        month_total.newborns,
        filled.total,
        filled.recorded,
        filled.usable,
    from filled
    inner join mapped using (unit, table_name, column_name)
    inner join month_total using (unit, month, shift)
    where filled.table_name <> 'admission' and filled.column_name <> 'kind'
    qualify
        max(filled.recorded) over (
            partition by filled.unit, filled.table_name, filled.kind, filled.column_name
        ) > 0
)

select * from of_newborns
union all
select * from of_rows
order by unit, table_name, kind, column_name, shift, month
