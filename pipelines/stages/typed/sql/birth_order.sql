-- Running order of births in a unit: by birth time where there is one, else as given,
-- else in the order of the rows.
update typed.admission as newborn
set birth_order = numbered.place
from (
    select
        typed.admission.newborn_id,
        row_number() over (
            partition by typed.admission.unit
            order by
                birth.born_at nulls last,
                typed.admission.birth_month nulls last,
                typed.admission.birth_order nulls last,
                typed.admission.newborn_id,
        ) as place,
    from typed.admission
    inner join raw.birth as birth using (newborn_id)
) as numbered
where newborn.newborn_id = numbered.newborn_id
