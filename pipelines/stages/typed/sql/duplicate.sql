-- One row per kept admission row whose record stood more than once in the export.
create table typed.duplicate as
select
    'admission' as table_name,
    birth.row_id,
    record.has_conflict as is_conflicting,
from raw.record as record
inner join raw.birth as birth using (unit, record_id)
where record.is_repeated
