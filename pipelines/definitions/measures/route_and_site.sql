/*
title = "Each medicine by its own route"
question = "Was each medicine of the first day given by its own route and at its own site?"
also_called = ["injection", "wrong route", "medication error"]
group = "protection"
kind = "dose"
direction = "higher"
population = "Doses of eye antibiotic, vitamin K, hepatitis B vaccine and hepatitis B immune globulin recorded as given to newborns born alive."
numerator = "The eye antibiotic into the eye, the others into a muscle; vaccine and immune globulin of one newborn, where given together (within 60 minutes of each other), at different sites."
anchor = "the dose"
owner = "recorded"
parameters = { together_minutes = 60 }
exceptions = "Vitamin K by mouth: an oral regimen is a choice, not a wrong route."
missing = "not_met"
sources = [
    "AAP, Pediatrics, 2022: vitamin K into a muscle",
    "ACIP, MMWR, 2018: vaccine and immune globulin into a muscle, at separate sites",
    "Given together is within 60 minutes: local decision, no published value",
    "Wrong products in newborns: American Journal of Health-System Pharmacy, 2010",
]
disagreement = "Where oral vitamin K is the rule, read the exceptions, not the rate. Vitamin K into a vein counts against the rate, although very small newborns may be given it so."
documentation_trap = "Route and site are often defaults of the order. A blank route is unusable, never a pass; not where the dose is wrong whatever the route, at one site with the other. Where vaccine and immune globulin were given together, or the record does not say when, a blank site is unusable. A feed of vaccines without sites makes all of these unusable."
caution = "This screens records: report it as a count and look at each miss at once."
balancing = ["vitamin_k_dose", "product_strength"]
look_at = ["each medicine: route, site"]
version = "1.1"

[gravity]
level = "sentinel"
why = "A medicine by a wrong route or at a wrong site can do damage in one dose."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "vaccine and immune globulin are compared by site only where given together; a blank route does not hide a wrong site"

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
because = "60 minutes apart are together, 61 are not; a time that is not known may be together; a blank route at one site is not met whatever the route"
given.admission = """
record_id
apart60
apart61
days_apart
no_time
no_time_ok
far_no_site
blank_route
"""
given.dose = """
record_id   | kind                        | minutes | status | route         | site        | unusable
apart60     | hepatitis_b_vaccine         | 30      | given  | intramuscular | left_thigh  |
apart60     | hepatitis_b_immune_globulin | 90      | given  | intramuscular | left_thigh  |
apart61     | hepatitis_b_vaccine         | 30      | given  | intramuscular | left_thigh  |
apart61     | hepatitis_b_immune_globulin | 91      | given  | intramuscular | left_thigh  |
days_apart  | hepatitis_b_vaccine         | 300     | given  | intramuscular | left_thigh  |
days_apart  | hepatitis_b_immune_globulin | 5000    | given  | intramuscular | left_thigh  |
no_time     | hepatitis_b_immune_globulin |         | given  | intramuscular | left_thigh  | minutes
no_time     | hepatitis_b_vaccine         | 30      | given  | intramuscular | left_thigh  |
no_time_ok  | hepatitis_b_immune_globulin |         | given  | intramuscular | right_thigh | minutes
no_time_ok  | hepatitis_b_vaccine         | 30      | given  | intramuscular | left_thigh  |
far_no_site | hepatitis_b_vaccine         | 300     | given  | intramuscular |             |
far_no_site | hepatitis_b_immune_globulin | 5000    | given  | intramuscular | left_thigh  |
blank_route | hepatitis_b_vaccine         | 30      | given  |               | left_thigh  |
blank_route | hepatitis_b_immune_globulin | 31      | given  | intramuscular | left_thigh  |
"""
expect = """
record_id   | item | state
apart60     | 1    | not_met
apart60     | 2    | not_met
apart61     | 1    | met
apart61     | 2    | met
days_apart  | 1    | met
days_apart  | 2    | met
no_time     | 1    | unusable
no_time     | 2    | unusable
no_time_ok  | 1    | met
no_time_ok  | 2    | met
far_no_site | 1    | met
far_no_site | 2    | met
blank_route | 1    | not_met
blank_route | 2    | not_met
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
        event_id as event_id,
        kind as kind,
        minutes as minutes,
        route as route,
        site as site,
    from mart.event
    -- A medicine on no list is none of the four.
    where
        kind in (
            'eye_antibiotic', 'vitamin_k', 'hepatitis_b_vaccine', 'hepatitis_b_immune_globulin'
        )
        and status = 'given'
),

beside_another as (
    select
        doses.event_id as event_id,
        coalesce(bool_or(pair.is_at_one_site), false) as is_at_one_site,
        bool_or(pair.is_at_one_site is null) as may_be_at_one_site,
    from doses
    inner join hepatitis_b_pair as pair
        on
            pair.newborn_id = doses.newborn_id
            and doses.event_id in (pair.vaccine_id, pair.globulin_id)
    group by doses.event_id
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
        coalesce(beside_another.is_at_one_site, false) as is_at_one_site,
        coalesce(beside_another.may_be_at_one_site, false) as may_be_at_one_site,
    from doses
    left join beside_another on beside_another.event_id = doses.event_id
)

select
    newborn_id as newborn_id,
    item as item,
    if(kind = 'vitamin_k' and route = 'oral', 'oral_chosen', null) as exception,
    true as is_documented,
    -- A wrong route or a wrong site is a miss, whatever else the record does not say.
    is_at_one_site
    or coalesce(not is_right_route, false)
    or (route is not null and not may_be_at_one_site) as is_usable,
    minutes as minutes,
    is_right_route and not is_at_one_site as is_met,
    replace(concat_ws(', ', kind, route, site), '_', ' ') as detail,
from routed
