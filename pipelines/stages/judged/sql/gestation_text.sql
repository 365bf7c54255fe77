-- Gestation as the export writes it, where that could be misread: a number of days among weeks,
-- or weeks with one decimal.
create or replace temp table gestation_text as
select
    newborn.row_id,
    text.gestational_age_days as recorded,
    regexp_matches(text.gestational_age_days, '^\d{2}[.,]\d$') as is_one_decimal,
from typed.admission as newborn
inner join raw.admission as text using (row_id)
where regexp_matches(text.gestational_age_days, '^(\d{2}[.,]\d|\d{3})$')
