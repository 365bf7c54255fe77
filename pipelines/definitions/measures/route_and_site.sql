/*
title = "Each medicine by its own route"
question = "Was each medicine of the first day given by its own route and at its own site?"
also_called = ["injection", "wrong route", "medication error"]
group = "protection"
kind = "dose"
direction = "higher"
population = "Doses of eye antibiotic, vitamin K, hepatitis B vaccine and hepatitis B immune globulin recorded as given to newborns born alive."
numerator = "The eye antibiotic into the eye, the others into a muscle; vaccine and immune globulin of one newborn at different sites."
anchor = "the dose"
owner = "recorded"
exceptions = "Vitamin K by mouth: an oral regimen is a choice, not a wrong route."
missing = "not_met"
sources = [
    "AAP, Pediatrics, 2022: vitamin K into a muscle",
    "ACIP, MMWR, 2018: vaccine and immune globulin into a muscle, at separate sites",
    "Wrong products in newborns: American Journal of Health-System Pharmacy, 2010",
]
disagreement = "Where oral vitamin K is the rule, read the exceptions, not the rate. Vitamin K into a vein counts against the rate, although very small newborns may be given it so."
documentation_trap = "Route and site are often defaults of the order. A blank route is unusable, never a pass. Where both vaccine and immune globulin were given, a blank site is unusable. A feed of vaccines without sites makes all of these unusable."
caution = "This screens records: report it as a count and look at each miss at once."
balancing = ["vitamin_k_dose", "product_strength"]
look_at = ["each medicine: route, site"]
version = "1.0"

[gravity]
level = "sentinel"
why = "A medicine by a wrong route or at a wrong site can do damage in one dose."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[examples]]
because = "each of the four has its own route; eye antibiotic into a muscle is not met; a blank or masked route is unusable"
given.admission = """
record_id
right
wrong
blank
"""
given.dose = """
record_id | kind                        | minutes | status | route         | site        | unusable
right     | eye_antibiotic              | 10      | given  | ophthalmic    | both_eyes   |
right     | vitamin_k                   | 20      | given  | intramuscular | left_thigh  |
right     | hepatitis_b_vaccine         | 30      | given  | intramuscular |             |
wrong     | eye_antibiotic              | 10      | given  | intramuscular | left_thigh  |
wrong     | vitamin_k                   | 20      | given  | intravenous   |             |
wrong     | hepatitis_b_vaccine         | 30      | given  | subcutaneous  | right_thigh |
blank     | vitamin_k                   | 20      | given  |               |             |
blank     | hepatitis_b_immune_globulin | 30      | given  |               |             | route
"""
expect = """
record_id | item | state    | minutes
right     | 1    | met      | 10
right     | 2    | met      | 20
right     | 3    | met      | 30
wrong     | 1    | not_met  | 10
wrong     | 2    | not_met  | 20
wrong     | 3    | not_met  | 30
blank     | 1    | unusable | 20
blank     | 2    | unusable | 30
"""

[[examples]]
because = "vaccine and immune globulin at one site are both not met, with a blank site both unusable, at two sites met"
given.admission = """
record_id
same
apart
no_site
wrong_way
"""
given.dose = """
record_id | kind                        | minutes | status | route         | site
same      | hepatitis_b_vaccine         | 30      | given  | intramuscular | left_thigh
same      | hepatitis_b_immune_globulin | 31      | given  | intramuscular | left_thigh
apart     | hepatitis_b_vaccine         | 30      | given  | intramuscular | left_thigh
apart     | hepatitis_b_immune_globulin | 31      | given  | intramuscular | right_thigh
no_site   | hepatitis_b_vaccine         | 30      | given  | intramuscular | left_thigh
no_site   | hepatitis_b_immune_globulin | 31      | given  | intramuscular |
wrong_way | hepatitis_b_vaccine         | 30      | given  | subcutaneous  |
wrong_way | hepatitis_b_immune_globulin | 31      | given  | intramuscular | left_thigh
"""
expect = """
record_id | item | state
same      | 1    | not_met
same      | 2    | not_met
apart     | 1    | met
apart     | 2    | met
no_site   | 1    | unusable
no_site   | 2    | unusable
wrong_way | 1    | not_met
wrong_way | 2    | unusable
"""

[[examples]]
because = "vitamin K by mouth is an exception; refused and held doses, and a medicine on no list, are no rows; a stillborn is set apart"
given.admission = """
record_id | live_birth
oral      | true
not_given | true
another   | true
still     | false
"""
given.dose = """
record_id | kind      | minutes | status  | route         | reason   | unusable
oral      | vitamin_k | 20      | given   | oral          |          |
not_given | vitamin_k | 20      | refused |               | declined |
not_given | vitamin_k | 30      | held    |               | later    |
another   |           | 20      | given   | oral          |          | kind
still     | vitamin_k | 20      | given   | intramuscular |          |
"""
expect = """
record_id | item | state     | reason
oral      | 1    | exception | oral_chosen
still     | 1    | exclusion | stillborn
"""
*/
with doses as (
    select
        newborn_id as newborn_id,
        kind as kind,
        minutes as minutes,
        route as route,
        site as site,
        kind in ('hepatitis_b_vaccine', 'hepatitis_b_immune_globulin') as is_hepatitis_b,
    from mart.event
    -- A medicine on no list is none of the four.
    where
        kind in (
            'eye_antibiotic', 'vitamin_k', 'hepatitis_b_vaccine', 'hepatitis_b_immune_globulin'
        )
        and status = 'given'
),

pairs as (
    select
        newborn_id as newborn_id,
        count(distinct kind) = 2 as is_pair,
        bool_or(site is null) as lacks_site,
        list_has_any(
            list(site) filter (where kind = 'hepatitis_b_vaccine' and site is not null),
            list(site) filter (where kind = 'hepatitis_b_immune_globulin' and site is not null)
        ) as is_same_site,
    from doses
    where is_hepatitis_b
    group by newborn_id
),

routed as (
    select
        doses.newborn_id as newborn_id,
        row_number() over (
            partition by doses.newborn_id
            -- By what was charted, so that the order of the lines in a file changes nothing.
            order by doses.minutes nulls last, doses.kind, doses.route, doses.site
        ) as item,
        doses.kind as kind,
        doses.route as route,
        doses.site as site,
        doses.minutes as minutes,
        doses.route = if(doses.kind = 'eye_antibiotic', 'ophthalmic', 'intramuscular')
            as is_right_route,
        coalesce(doses.is_hepatitis_b and pairs.is_pair, false) as is_paired,
        coalesce(pairs.lacks_site, false) as lacks_site,
        coalesce(pairs.is_same_site, false) as is_same_site,
    from doses
    left join pairs on pairs.newborn_id = doses.newborn_id
)

select
    newborn_id as newborn_id,
    item as item,
    if(kind = 'vitamin_k' and route = 'oral', 'oral_chosen', null) as exception,
    true as is_documented,
    route is not null
    and not (is_right_route and is_paired and lacks_site and not is_same_site) as is_usable,
    minutes as minutes,
    is_right_route and not (is_paired and is_same_site) as is_met,
    replace(concat_ws(', ', kind, route, site), '_', ' ') as detail,
from routed
