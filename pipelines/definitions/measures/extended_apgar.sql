/*
title = "Apgar scored on after a low total"
question = "Where the Apgar total at 5 minutes was below 7, was scoring continued?"
group = "first observations"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit whose Apgar total at 5 minutes is below 7."
numerator = "A total every 5 minutes until one is 7 or more, or until 20 minutes."
anchor = "birth; the nominal minute of the score, not the time of charting"
window_status = "published"
parameters = { low_below = 7, score_to_the_end = false }
population_needs = ["admission.apgar_5"]
owner = "born_here"
exceptions = "None."
missing = "not_met"
sources = ["AAP and ACOG, Pediatrics, 2015: below 7 at 5 minutes, score every 5 minutes up to 20"]
disagreement = "Some stop at the first total of 7 or more, some always score to 20 minutes: set score_to_the_end to true for the strict reading."
documentation_trap = "The total at 10 minutes often stays in the resuscitation note. A total at 5 minutes that is blank or unusable keeps the newborn out of this population; the pair of totals counts it."
caution = "This screens records. Scores describe the response to help; they do not predict an outcome for one newborn."
balancing = ["apgar_pair"]
look_at = ["admission: Apgar at 5, 10, 15 and 20 minutes"]
version = "1.1"

[gravity]
level = "serious"
why = "After a low total the next scores are the record of whether the newborn recovered."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "6 is low, 7 is not; after 8 at 10 minutes no more is asked; a low total asks for the next"
given.admission = """
record_id   | apgar_1 | apgar_5 | apgar_10 | apgar_15 | apgar_20
at7         | 6       | 7       |          |          |
enough      | 4       | 6       | 8        |          |
seven       | 4       | 6       | 7        |          |
until15     | 2       | 4       | 6        | 7        |
until20     | 2       | 4       | 5        | 6        | 6
no_10       | 4       | 6       |          |          |
no_15       | 2       | 4       | 6        |          |
no_20       | 2       | 4       | 5        | 6        |
no_5        | 2       |         |          |          |
"""
expect = """
record_id | state
enough    | met
seven     | met
until15   | met
until20   | met
no_10     | not_documented
no_15     | not_documented
no_20     | not_documented
"""

[[examples]]
because = "a masked total that is needed is unusable; one that is not needed does not matter"
given.admission = """
record_id | apgar_5 | apgar_10 | apgar_15 | apgar_20 | unusable
bad_10    | 6       |          |          |          | apgar_10
bad_15    | 6       | 5        |          |          | apgar_15
bad_extra | 6       | 8        |          |          | apgar_15
bad_5     |         | 8        |          |          | apgar_5
"""
expect = """
record_id | state
bad_10    | unusable
bad_15    | unusable
bad_extra | met
"""

[[examples]]
because = "the strict reading asks for all of 10, 15 and 20"
policy = { score_to_the_end = true }
given.admission = """
record_id | apgar_5 | apgar_10 | apgar_15 | apgar_20
ten_only  | 6       | 8        |          |
all_three | 6       | 8        | 9        | 9
"""
expect = """
record_id | state
ten_only  | not_documented
all_three | met
"""

[[examples]]
because = "standard exclusions hold up to the minute of the last total that was due"
given.admission = """
record_id   | live_birth | birth_place | apgar_5 | apgar_10 | discharge_minutes | disposition
still       | false      | birth_room  | 0       |          |                   |
died_at_8   | true       | birth_room  | 2       |          | 8                 | died
died_at_12  | true       | birth_room  | 2       | 3        | 12                | died
died_at_15  | true       | birth_room  | 2       | 3        | 15                | died
moved_at_12 | true       | birth_room  | 6       | 8        | 12                | transfer
moved_at_5  | true       | birth_room  | 6       |          | 5                 | transfer
elsewhere   | true       | other_site  | 6       | 8        |                   |
comfort     | true       | birth_room  | 2       |          |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 6       | done
"""
expect = """
record_id   | state
still       | exclusion
died_at_8   | exclusion
died_at_12  | exclusion
died_at_15  | not_documented
moved_at_12 | met
moved_at_5  | exception
elsewhere   | exclusion
comfort     | exclusion
"""
*/
with scores as (
    select
        newborn.newborn_id as newborn_id,
        newborn.apgar_10 as at10,
        newborn.apgar_15 as at15,
        newborn.apgar_20 as at20,
        coalesce(list_contains(newborn.unusable, 'apgar_10'), false) as is_bad_10,
        coalesce(list_contains(newborn.unusable, 'apgar_15'), false) as is_bad_15,
        coalesce(list_contains(newborn.unusable, 'apgar_20'), false) as is_bad_20,
        setting.score_to_the_end or newborn.apgar_10 < setting.low_below as needs_15,
        setting.score_to_the_end
        or (newborn.apgar_10 < setting.low_below and newborn.apgar_15 < setting.low_below)
            as needs_20,
    from mart.newborn as newborn
    inner join setting on setting.newborn_id = newborn.newborn_id
    where newborn.apgar_5 < setting.low_below
)

select
    newborn_id as newborn_id,
    (at10 is not null or is_bad_10)
    and (not coalesce(needs_15, false) or at15 is not null or is_bad_15)
    and (not coalesce(needs_20, false) or at20 is not null or is_bad_20) as is_documented,
    at10 is not null
    and (not coalesce(needs_15, false) or at15 is not null)
    and (not coalesce(needs_20, false) or at20 is not null) as is_usable,
    at10 is not null
    and (not needs_15 or at15 is not null)
    and (not needs_20 or at20 is not null) as is_met,
    case
        when needs_20 then 20
        when needs_15 then 15
        else 10
    end as closes_minutes,
    if(is_met, closes_minutes, null) as judged_minutes,
from scores
