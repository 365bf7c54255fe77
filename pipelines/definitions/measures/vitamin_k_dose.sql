/*
title = "Vitamin K dose fits the weight"
question = "Did each dose of vitamin K into a muscle fit the birth weight?"
also_called = ["phytomenadione", "phytonadione"]
group = "protection"
kind = "dose"
direction = "higher"
population = "Doses of vitamin K recorded as given into a muscle to newborns born alive."
numerator = "Above 1500 g: 1 mg. Up to 1500 g: 0.3 to 0.5 mg for each kilogram. A tenth more or less is accepted."
anchor = "the dose"
window_status = "published in part"
parameters = { small_at_most_g = 1500, full_least_mg = 1.0, full_most_mg = 1.0, small_least_mg_per_kg = 0.3, small_most_mg_per_kg = 0.5, tolerance = 0.1 }
owner = "recorded"
exceptions = "None."
missing = "not_met"
sources = [
    "AAP, Pediatrics, 2022;149(3):e2021056036, recommendations 1 and 2, read as quoted in a summary: 1 mg above 1500 g; 0.3 to 0.5 mg/kg up to 1500 g",
    "Tolerance of a tenth: local decision, no published value",
]
disagreement = "Some dose tables allow 0.5 to 1 mg from 1500 g on: set full_least_mg to 0.5."
documentation_trap = "A dose charted in millilitres cannot be judged without the strength of the product and is unusable; so is one without a birth weight. A default amount in the order set makes every dose fit on paper."
caution = "This screens records and never advises a dose. Look at each miss at once: a wrong amount may be a wrong product."
balancing = ["product_strength"]
look_at = ["vitamin K: amount, its unit", "admission: weight"]
version = "1.0"

[gravity]
level = "sentinel"
why = "A wrong amount can be a wrong product, or leave the newborn without protection from bleeding."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[examples]]
because = "1500 g is still small, 1501 g is not; the edges with their tolerance count, a little beyond does not"
given.admission = """
record_id | weight_g
at1500    | 1500
at1501    | 1501
low       | 3000
high      | 3000
too_low   | 3000
too_high  | 3000
small_lo  | 1000
small_hi  | 1000
small_no  | 1000
small_big | 1000
"""
given.dose = """
record_id | kind      | minutes | status | route         | amount | amount_unit
at1500    | vitamin_k | 60      | given  | intramuscular | 0.75   | mg
at1501    | vitamin_k | 60      | given  | intramuscular | 0.75   | mg
low       | vitamin_k | 60      | given  | intramuscular | 0.9    | mg
high      | vitamin_k | 60      | given  | intramuscular | 1.1    | mg
too_low   | vitamin_k | 60      | given  | intramuscular | 0.89   | mg
too_high  | vitamin_k | 60      | given  | intramuscular | 1.11   | mg
small_lo  | vitamin_k | 60      | given  | intramuscular | 0.27   | mg
small_hi  | vitamin_k | 60      | given  | intramuscular | 550    | ug
small_no  | vitamin_k | 60      | given  | intramuscular | 0.26   | mg
small_big | vitamin_k | 60      | given  | intramuscular | 1.0    | mg
"""
expect = """
record_id | item | state
at1500    | 1    | met
at1501    | 1    | not_met
low       | 1    | met
high      | 1    | met
too_low   | 1    | not_met
too_high  | 1    | not_met
small_lo  | 1    | met
small_hi  | 1    | met
small_no  | 1    | not_met
small_big | 1    | not_met
"""

[[examples]]
because = "no amount is not documented; millilitres, no unit, no weight and masked cells are unusable"
given.admission = """
record_id | weight_g
no_amount | 3000
in_ml     | 3000
no_unit   | 3000
no_weight |
masked    | 3000
"""
given.dose = """
record_id | kind      | minutes | status | route         | amount | amount_unit | unusable
no_amount | vitamin_k | 60      | given  | intramuscular |        | mg          |
in_ml     | vitamin_k | 60      | given  | intramuscular | 0.5    | mL          |
no_unit   | vitamin_k | 60      | given  | intramuscular | 1      |             |
no_weight | vitamin_k | 60      | given  | intramuscular | 1      | mg          |
masked    | vitamin_k | 60      | given  | intramuscular |        | mg          | amount
"""
expect = """
record_id | item | state
no_amount | 1    | not_documented
in_ml     | 1    | unusable
no_unit   | 1    | unusable
no_weight | 1    | unusable
masked    | 1    | unusable
"""

[[examples]]
because = "each dose given into a muscle is a row; other routes, refusals and other medicines are none; a stillborn is set apart"
given.admission = """
record_id | weight_g | live_birth
twice     | 3000     | true
others    | 3000     | true
still     | 3000     | false
"""
given.dose = """
record_id | kind                | minutes | status  | route         | amount | amount_unit
twice     | vitamin_k           | 60      | given   | intramuscular | 1      | mg
twice     | vitamin_k           | 90      | given   | intramuscular | 10     | mg
others    | vitamin_k           | 60      | refused |               |        |
others    | vitamin_k           | 60      | given   | oral          | 2      | mg
others    | hepatitis_b_vaccine | 60      | given   | intramuscular | 0.5    | mL
still     | vitamin_k           | 60      | given   | intramuscular | 1      | mg
"""
expect = """
record_id | item | state     | minutes
twice     | 1    | met       | 60
twice     | 2    | not_met   | 90
still     | 1    | exclusion |
"""

[[examples]]
because = "a unit whose table begins at half a milligram says so"
policy = { full_least_mg = 0.5 }
given.admission = """
record_id | weight_g
half      | 3000
"""
given.dose = """
record_id | kind      | minutes | status | route         | amount | amount_unit
half      | vitamin_k | 60      | given  | intramuscular | 0.5    | mg
"""
expect = """
record_id | item | state
half      | 1    | met
"""
*/
with doses as (
    select
        event.newborn_id as newborn_id,
        event.minutes as minutes,
        row_number() over (
            partition by event.newborn_id
            -- By what was charted, so that the order of the lines in a file changes nothing.
            order by
                event.minutes nulls last, event.amount, event.amount_unit, event.unusable::varchar
        ) as item,
        event.amount is not null or coalesce(list_contains(event.unusable, 'amount'), false)
            as is_documented,
        case event.amount_unit
            when 'mg' then event.amount
            when 'ug' then event.amount / 1000
        end as amount_mg,
    from mart.event as event
    where
        event.kind = 'vitamin_k'
        and event.status = 'given'
        and event.route = 'intramuscular'
),

fitted as (
    select
        newborn.newborn_id as newborn_id,
        if(
            newborn.weight_g > setting.small_at_most_g,
            setting.full_least_mg,
            setting.small_least_mg_per_kg * newborn.weight_g / 1000
        ) * (1 - setting.tolerance) as least_mg,
        if(
            newborn.weight_g > setting.small_at_most_g,
            setting.full_most_mg,
            setting.small_most_mg_per_kg * newborn.weight_g / 1000
        ) * (1 + setting.tolerance) as most_mg,
    from mart.newborn as newborn
    inner join setting on setting.newborn_id = newborn.newborn_id
    where newborn.weight_g is not null
)

select
    doses.newborn_id as newborn_id,
    doses.item as item,
    doses.is_documented as is_documented,
    doses.amount_mg is not null and fitted.newborn_id is not null as is_usable,
    doses.minutes as minutes,
    -- Rounded, so that 0.3 times 0.9 is no hair above 0.27.
    round(doses.amount_mg, 4) between round(fitted.least_mg, 4) and round(fitted.most_mg, 4)
        as is_met,
    doses.amount_mg || ' mg' as detail,
from doses
left join fitted on fitted.newborn_id = doses.newborn_id
