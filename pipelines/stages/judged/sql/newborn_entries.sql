-- Every entry with a time, of all event tables, and what the entries of one newborn have in
-- common: grain one row per newborn with an entry. Working tables of the rules, never stored.

-- Which slip of a clock or a date would bring a time back between two bounds, in words; null
-- where none would. A year has 365 days, or 366 with a leap day in it.
create or replace temp macro earlier_fits(at_minute, at_least, at_most) as
nullif(
    concat_ws(
        '; ',
        if(
            at_minute - 720 between at_least and at_most,
            format('12 hours earlier would fit: {:.0f} min after birth', at_minute - 720),
            null
        ),
        if(
            at_minute - 1440 between at_least and at_most,
            format('a day earlier would fit: {:.0f} min after birth', at_minute - 1440),
            null
        ),
        case
            when at_minute - 525600 between at_least and at_most
            then format('a year earlier would fit: {:.0f} min after birth', at_minute - 525600)
            when at_minute - 527040 between at_least and at_most
            then format('a year earlier would fit: {:.0f} min after birth', at_minute - 527040)
        end
    ),
    ''
);

create or replace temp view timed_entry as
select 'observation' as table_name, row_id, unit, newborn_id, kind, minutes from typed.observation
where minutes is not null
union all
select 'dose' as table_name, row_id, unit, newborn_id, kind, minutes from typed.dose
where minutes is not null
union all
select 'care' as table_name, row_id, unit, newborn_id, kind, minutes from typed.care
where minutes is not null
union all
select 'finding' as table_name, row_id, unit, newborn_id, kind, minutes from typed.finding
where minutes is not null;

create or replace temp table newborn_entries as
select
    unit,
    newborn_id,
    count(*) as entries,
    count(*) filter (where minutes < 0) as before_birth,
    count(*) filter (where minutes = 0) as at_zero,
    min(minutes) as first_minute,
    max(minutes) as last_minute,
from timed_entry
group by unit, newborn_id
