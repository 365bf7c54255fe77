/*
title       = "Vitamin K dose against birth weight"
table       = "dose"
severity    = "query"
explanation = "The amount is outside what is usual for this birth weight. The amount, its unit or the weight may be wrong, or it was given so: look it up now, for it may have to be reported."
sources     = [
    "above 1,500 g 1 mg, up to there 0.3 to 0.5 mg per kg, into a muscle: American Academy of Pediatrics, Pediatrics 2022;149(3):e2021056036, read as quoted in a summary",
    "0.5 mg as the least above 1,500 g: the US label of the product and the statement of 2003 (0.5 to 1 mg), both from memory; so that a dose of the older scheme is no flag",
    "tolerance 10 %, a weight within 4 z: our own",
]
# A query, not an error: if it truly happened, the record is right and must stay. Doses by mouth
# and into a vein follow other schemes, and a weight that is itself doubtful says nothing.

[parameters]
small_up_to_g       = 1500
mg_at_least         = 0.5
mg_at_most          = 1
small_mg_per_kg_at_least = 0.3
small_mg_per_kg_at_most  = 0.5
tolerance           = 0.1
weight_z_within     = 4

[[examples]]
because = "10 mg is found, 1.1 mg lies within the tolerance; a newborn of 1,000 g may have 0.27 to 0.55 mg"
given.admission = """
record_id | weight_g | gestational_age_days
ten       | 3400     | 280
edge      | 3400     | 280
over      | 3400     | 280
small     | 1000     | 196
small_low | 1000     | 196
small_ok  | 1000     | 196
"""
given.dose = """
record_id | kind      | status | route         | amount | amount_unit
ten       | vitamin_k | given  | intramuscular | 10     | mg
edge      | vitamin_k | given  | intramuscular | 1.1    | mg
over      | vitamin_k | given  | intramuscular | 1.2    | mg
small     | vitamin_k | given  | intramuscular | 1      | mg
small_low | vitamin_k | given  |               | 0.2    | mg
small_ok  | vitamin_k | given  | intramuscular | 0.55   | mg
"""
expect = """
record_id | column_name | severity
ten       | amount      | query
over      | amount      | query
small     | amount      | query
small_low | amount      | query
"""

[[examples]]
because = "micrograms are converted; 1,500 g counts as small and 1,501 g does not"
given.admission = """
record_id | weight_g | gestational_age_days
micro     | 3400     | 280
edge      | 1500     | 217
above     | 1501     | 217
"""
given.dose = """
record_id | kind      | status | route         | amount | amount_unit
micro     | vitamin_k | given  | intramuscular | 10000  | ug
edge      | vitamin_k | given  | intramuscular | 1      | mg
above     | vitamin_k | given  | intramuscular | 1      | mg
"""
expect = """
record_id | column_name
micro     | amount
edge      | amount
"""

[[examples]]
because = "by mouth, in millilitres, without weight or beside a doubtful weight nothing is said"
given.admission = """
record_id | weight_g | gestational_age_days
mouth     | 3400     | 280
volume    | 3400     | 280
unknown   |          | 280
doubtful  | 340      | 280
"""
given.dose = """
record_id | kind      | status | route         | amount | amount_unit
mouth     | vitamin_k | given  | oral          | 2      | mg
volume    | vitamin_k | given  | intramuscular | 10     | mL
unknown   | vitamin_k | given  | intramuscular | 10     | mg
doubtful  | vitamin_k | given  | intramuscular | 1      | mg
"""
expect = """
record_id | column_name
"""
*/
with given as (
    select
        dose.row_id,
        newborn.weight_g,
        dose.amount / if(dose.amount_unit = 'ug', 1000, 1) as amount_mg,
        setting.* exclude (unit),
    from typed.dose as dose
    inner join typed.admission as newborn using (newborn_id)
    inner join rule_setting as setting on setting.unit = newborn.unit
    inner join contract_limit as usual
        on usual.table_name = 'admission' and usual.column_name = 'weight_g'
    left join size_z as size on size.row_id = newborn.row_id
    where
        dose.kind = 'vitamin_k'
        and coalesce(dose.status, 'given') = 'given'
        and coalesce(dose.route, 'intramuscular') = 'intramuscular'
        and dose.amount_unit in ('mg', 'ug')
        and newborn.weight_g between usual.error_below and usual.error_above
        and coalesce(abs(size.weight_z) <= setting.weight_z_within, true)
),

usual_mg as (
    select
        *,
        if(weight_g <= small_up_to_g, small_mg_per_kg_at_least * weight_g / 1000, mg_at_least)
            as low_mg,
        if(weight_g <= small_up_to_g, small_mg_per_kg_at_most * weight_g / 1000, mg_at_most)
            as high_mg,
    from given
)

select
    row_id,
    'amount' as column_name,
from usual_mg
-- A hair of slack, so that 1.1 counts as a tenth above 1.
where
    amount_mg < low_mg * (1 - tolerance) - 1e-9
    or amount_mg > high_mg * (1 + tolerance) + 1e-9
