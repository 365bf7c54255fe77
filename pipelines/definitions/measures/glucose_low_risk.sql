/*
title = "Glucose checked where the risk is low"
question = "How many newborns at low risk had blood taken for glucose?"
also_called = ["hypoglycaemia", "hypoglycemia", "blood sugar"]
group = "screening"
kind = "proportion"
direction = "lower"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 45 minutes of age, at 37 weeks or more, from 2500 to 4000 g and from the 10th to below the 90th centile of weight for gestation and sex, whose mother is not recorded as having diabetes."
numerator = "Any believable glucose in the first 24 hours."
anchor = "birth"
window = { at_least = 0, at_most = 1440 }
window_status = "local"
parameters = { term_from_weeks = 37, glucose_small_below_g = 2500, large_above_g = 4000, small_below_centile = 10, large_from_centile = 90 }
follows = { arrived_before = "glucose_check", term_from_weeks = "cord_clamp_deferred", glucose_small_below_g = "glucose_check", large_above_g = "glucose_check", small_below_centile = "glucose_check", large_from_centile = "glucose_check" }
population_needs = ["admission.maternal_diabetes", "admission.gestational_age_days", "admission.weight_g"]
owner = "born_here_or_arrived"
arrived_before = 45
exclude = ["cooling"]
exceptions = "None. A newborn moved away in that time is excluded, checked or not: it was not well. Other symptoms are not in this record."
missing = "left_out"
sources = [
    "AAP, Pediatrics, 2011: which newborns to screen, and so which not",
    "2500 g and 4000 g at term as a screen for small and large: common practice, no published source",
    "10th and 90th centile for small and large: AAP, Pediatrics, 2011, from memory",
    "Brought in before 45 minutes: local decision, no published value",
]
disagreement = "Units differ in whom they count as being at risk; set weights and centiles as for the newborns at raised risk."
documentation_trap = "No row is read as no check: a meter that does not send its results makes the rate look good. A cold or jittery newborn who was rightly checked counts here all the same."
caution = "This screens records. Some of these checks were right: look at a rise, never at one newborn. It balances the checks of newborns at raised risk."
balancing = ["glucose_check"]
look_at = ["glucose: time", "admission: gestational age, weight, mother's diabetes"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "A heel prick too many hurts, and shows how the list of risks is read."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 1440 still counts as the first day, 1441 does not; no row is read as no check"
given.admission = """
record_id | gestational_age_days | weight_g
at1440    | 280                  | 3200
at1441    | 280                  | 3200
no_row    | 280                  | 3200
"""
given.observation = """
record_id | kind    | minutes | value
at1440    | glucose | 1440    | 60
at1441    | glucose | 1441    | 60
"""
expect = """
record_id | state   | minutes
at1440    | met     | 1440
at1441    | not_met |
no_row    | not_met |
"""

[[examples]]
because = "who is at low risk: both weights included, 37 weeks included; unknown gestation or weight is nobody's; a blank on diabetes is read as none"
policy = { small_below_centile = 0, large_from_centile = 100 }
given.admission = """
record_id | gestational_age_days | weight_g | maternal_diabetes
d258      | 258                  | 3000     |
d259      | 259                  | 3000     |
at2499    | 280                  | 2499     |
at2500    | 280                  | 2500     | false
at4000    | 280                  | 4000     |
at4001    | 280                  | 4001     |
diabetes  | 280                  | 3000     | true
no_weeks  |                      | 3000     |
no_weight | 280                  |          |
"""
expect = """
record_id | state
d259      | not_met
at2500    | not_met
at4000    | not_met
"""

[[examples]]
because = "small or large for gestation and sex is no low risk; a newborn who is moved was not well, checked or not"
given.admission = """
record_id  | gestational_age_days | sex    | weight_g | discharge_minutes | disposition
boy_2860   | 280                  | male   | 2860     |                   |
girl_2860  | 280                  | female | 2860     |                   |
boy_3960   | 280                  | male   | 3960     |                   |
checked    | 280                  | male   | 3300     | 300               | transfer
moved_1440 | 280                  | male   | 3300     | 1440              | transfer
"""
given.observation = """
record_id  | kind    | minutes | value
checked    | glucose | 200     | 30
moved_1440 | glucose | 200     | 60
"""
expect = """
record_id  | state     | reason
girl_2860  | not_met   |
checked    | exclusion | moved before the window closed
moved_1440 | met       |
"""

[[examples]]
because = "masked readings only are unusable; a usable one beside them is taken"
given.admission = """
record_id | gestational_age_days | weight_g
masked    | 280                  | 3200
no_time   | 280                  | 3200
mixed     | 280                  | 3200
"""
given.observation = """
record_id | kind    | minutes | value | unusable
masked    | glucose | 60      |       | value
no_time   | glucose |         | 60    | minutes
mixed     | glucose | 30      |       | value
mixed     | glucose | 60      | 60    |
"""
expect = """
record_id | state    | minutes
masked    | unusable |
no_time   | unusable |
mixed     | met      | 60
"""

[[examples]]
because = "standard exclusions until the end of the first day"
given.admission = """
record_id    | gestational_age_days | weight_g | live_birth | birth_place | discharge_minutes | disposition
still        | 280                  | 3200     | false      | birth_room  |                   |
died_at_900  | 280                  | 3200     | true       | birth_room  | 900               | died
moved_at_900 | 280                  | 3200     | true       | birth_room  | 900               | transfer
elsewhere    | 280                  | 3200     | true       | other_site  |                   |
comfort      | 280                  | 3200     | true       | birth_room  |                   |
cooled       | 280                  | 3200     | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
cooled    | cooling      | 60      | done
"""
expect = """
record_id    | state
still        | exclusion
died_at_900  | exclusion
moved_at_900 | exclusion
elsewhere    | exclusion
comfort      | exclusion
cooled       | exclusion
"""
*/
with readings as (
    select
        event.newborn_id as newborn_id,
        coalesce(bool_or(event.is_usable), false) as is_usable,
        min(event.minutes) filter (where event.is_usable) as first_minutes,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where
        event.kind = 'glucose'
        and (event.minutes is null or event.minutes <= setting.at_most)
    group by event.newborn_id
)

select
    newborn.newborn_id as newborn_id,
    -- Checked or not: who is moved was not well, and its check was no needless one.
    if(way.moved_minutes < setting.at_most, 'moved before the window closed', null) as exclusion,
    true as is_documented,
    coalesce(readings.is_usable, true) as is_usable,
    readings.first_minutes as minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
inner join mart.way as way on way.newborn_id = newborn.newborn_id
left join readings on readings.newborn_id = newborn.newborn_id
where
    newborn.gestational_age_days >= setting.term_from_weeks * 7
    and newborn.weight_g between setting.glucose_small_below_g and setting.large_above_g
    and not coalesce(newborn.weight_centile < setting.small_below_centile, false)
    and not coalesce(newborn.weight_centile >= setting.large_from_centile, false)
    and newborn.maternal_diabetes is not true
