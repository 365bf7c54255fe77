-- Weights below 100 g before they were rounded to a tenth of a gram: of 3.395 kilograms entered as
-- grams the typed value keeps 3.4. mass_factor lists grams per unit of measurement; the one that
-- leads from the text to the typed value is the one the unit file declares.
create or replace temp table weight_exact as
with written as (
    select
        newborn.row_id,
        newborn.weight_g,
        try_cast(text.weight_g as double) as number,
    from typed.admission as newborn
    inner join raw.admission as text using (row_id)
    where newborn.weight_g < 100
)

select
    written.row_id,
    arg_min(
        written.number * mass_factor.grams, abs(written.number * mass_factor.grams - written.weight_g)
    ) as weight_g,
from written
cross join mass_factor
where abs(written.number * mass_factor.grams - written.weight_g) < 0.051
group by written.row_id
