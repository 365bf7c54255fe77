/*
title = "Newborn strength of each injection"
question = "Was each injection a newborn or paediatric presentation?"
also_called = ["wrong dose", "medication error"]
group = "protection"
kind = "dose"
direction = "higher"
population = "Doses of vitamin K, hepatitis B vaccine and hepatitis B immune globulin recorded as given to newborns born alive."
numerator = "The product is recorded as a newborn or paediatric presentation."
anchor = "the dose"
owner = "recorded"
exceptions = "None."
missing = "left_out"
sources = ["Adult-strength vitamin K and other wrong products in newborns: American Journal of Health-System Pharmacy, 2010"]
disagreement = "Some units keep a single strength in the room and do not chart it; there the measure has nothing to read."
documentation_trap = "Without a product code nobody can say: such a dose is unusable here, stays out of the rate and is shown in the bounds. A default product in the order proves nothing about the ampoule."
caution = "This screens records: report it as a count, and look at each adult strength at once. It says nothing about the dose itself."
balancing = ["vitamin_k_dose", "route_and_site"]
look_at = ["each injection: strength, amount"]
version = "1.0"

[gravity]
level = "sentinel"
why = "A product made for adults can carry many times the dose."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[examples]]
because = "a newborn presentation is met, an adult one is not; no code and a masked one are unusable"
given.admission = """
record_id
one
two
"""
given.dose = """
record_id | kind                        | minutes | status | strength | unusable
one       | vitamin_k                   | 10      | given  | newborn  |
one       | hepatitis_b_vaccine         | 20      | given  | adult    |
one       | hepatitis_b_immune_globulin | 30      | given  |          |
two       | vitamin_k                   | 10      | given  |          | strength
two       | eye_antibiotic              | 20      | given  |          |
"""
expect = """
record_id | item | state    | minutes
one       | 1    | met      | 10
one       | 2    | not_met  | 20
one       | 3    | unusable | 30
two       | 1    | unusable | 10
"""

[[examples]]
because = "refused and held doses are no rows; a stillborn is set apart"
given.admission = """
record_id | live_birth
not_given | true
still     | false
"""
given.dose = """
record_id | kind      | minutes | status  | strength
not_given | vitamin_k | 20      | refused |
not_given | vitamin_k | 30      | held    | adult
still     | vitamin_k | 20      | given   | newborn
"""
expect = """
record_id | item | state
still     | 1    | exclusion
"""
*/
select
    newborn_id as newborn_id,
    row_number() over (
        partition by newborn_id
        -- By what was charted, so that the order of the lines in a file changes nothing.
        order by minutes nulls last, kind, strength, unusable::varchar
    ) as item,
    true as is_documented,
    strength is not null as is_usable,
    minutes as minutes,
    strength = 'newborn' as is_met,
    replace(concat_ws(', ', kind, strength), '_', ' ') as detail,
from mart.event
where
    kind in ('vitamin_k', 'hepatitis_b_vaccine', 'hepatitis_b_immune_globulin')
    and status = 'given'
