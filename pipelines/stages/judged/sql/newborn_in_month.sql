-- Which month and shift a newborn belongs to; the shifts are those of mart.newborn.
create or replace temp table newborn_in_month as
select
    newborn_id,
    unit,
    birth_month as month,
    case
        when birth_hour between 7 and 18 then 'day'
        when birth_hour is not null then 'night'
    end as shift,
from judged.admission
where birth_month is not null
