/*
title = "Glucose checked where the risk is raised"
question = "Was blood glucose checked early, and often enough, in newborns at raised risk?"
also_called = ["hypoglycaemia", "hypoglycemia", "blood sugar"]
group = "screening"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 45 minutes of age, with a raised risk of low glucose: 34 to 36 completed weeks; at 37 weeks or more small (below 2500 g, or below the 10th centile of weight for gestation and sex) or large (above 4000 g, or from the 90th centile on); or a mother with diabetes."
numerator = "The first glucose inside the window, and at least 3 in the first 12 hours (large, or mother with diabetes) or 24 hours (late preterm or small)."
anchor = "birth"
window = { at_least = 0, at_most = 90 }
window_status = "local"
parameters = { late_preterm_from_weeks = 34, term_from_weeks = 37, glucose_small_below_g = 2500, large_above_g = 4000, small_below_centile = 10, large_from_centile = 90, checks = 3, shorter_minutes = 720, longer_minutes = 1440 }
follows = { term_from_weeks = "cord_clamp_deferred" }
population_needs = ["admission.maternal_diabetes", "admission.gestational_age_days", "admission.weight_g"]
owner = "born_here_or_arrived"
arrived_before = 45
going_home = "ends"
exceptions = "None. A first check that was not made in time is a miss from then on, whatever came later; the others could be made until the newborn left."
missing = "not_met"
sources = [
    "AAP, Pediatrics, 2011: which newborns to screen",
    "90 minutes, 3 checks, 12 and 24 hours: local decision, no published value; from memory of the same report",
    "2500 g and 4000 g at term as a screen for small and large: common practice, no published source",
    "10th and 90th centile for small and large: AAP, Pediatrics, 2011, from memory; the curves: see Size curves in DEVELOPERS.md",
    "Brought in before 45 minutes: local decision, no published value",
]
disagreement = "The paediatric and the endocrine society differ on limits and schedule; units add groups of their own. Small and large are read from the size curves (a unit may have its own) and from two weights beside them; to go by one alone, set the weights to 0 and 9999, or the centiles to 0 and 100. Below 37 weeks the gestation itself raises the risk."
documentation_trap = "A meter that does not send its results leaves nothing here. Whether a check came before a feed is not recorded. A blank answer on the mother's diabetes is read as none, and a blank gestation or weight can hide a risk."
caution = "This screens records and knows no limit for treatment. More checks are more heel pricks, formula and time apart: read it beside the newborns at low risk."
balancing = ["glucose_low_risk", "first_feed"]
look_at = ["glucose: time, value", "admission: gestational age, weight, mother's diabetes"]
version = "1.1"

[gravity]
level = "serious"
why = "Low glucose gives no sign at first, and can do lasting damage."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "the first at minute 90 counts, at 91 it is late; three are enough, two are not; the hours differ by the reason"
given.admission = """
record_id  | gestational_age_days | weight_g | maternal_diabetes
at90       | 240                  | 2600     |
at91       | 240                  | 2600     |
two        | 240                  | 2600     |
mother_12h | 280                  | 3200     | true
mother_no  | 280                  | 3200     | true
small_24h  | 280                  | 2400     |
"""
given.observation = """
record_id  | kind    | minutes | value
at90       | glucose | 90      | 60
at90       | glucose | 300     | 60
at90       | glucose | 1440    | 60
at91       | glucose | 91      | 60
at91       | glucose | 300     | 60
at91       | glucose | 500     | 60
two        | glucose | 60      | 60
two        | glucose | 300     | 60
two        | glucose | 1441    | 60
mother_12h | glucose | 60      | 60
mother_12h | glucose | 300     | 60
mother_12h | glucose | 720     | 60
mother_no  | glucose | 60      | 60
mother_no  | glucose | 300     | 60
mother_no  | glucose | 721     | 60
small_24h  | glucose | 60      | 60
small_24h  | glucose | 300     | 60
small_24h  | glucose | 721     | 60
"""
expect = """
record_id  | state   | minutes
at90       | met     | 90
at91       | late    | 91
two        | not_met |
mother_12h | met     | 60
mother_no  | not_met |
small_24h  | met     | 60
"""

[[examples]]
because = "who is at risk by weights alone: 34+0 to 36+6, below 2500 g or above 4000 g at term, mother with diabetes; nobody else"
policy = { small_below_centile = 0, large_from_centile = 100 }
given.admission = """
record_id  | gestational_age_days | weight_g | maternal_diabetes
d237       | 237                  | 2000     |
d238       | 238                  | 2600     |
d258       | 258                  | 2600     |
d259       | 259                  | 2600     | false
at2499     | 280                  | 2499     |
at2500     | 280                  | 2500     |
at4000     | 280                  | 4000     |
at4001     | 280                  | 4001     |
diabetes   | 280                  | 3000     | true
no_weeks   |                      | 2000     |
no_weeks_d |                      |          | true
"""
expect = """
record_id  | state
d238       | not_documented
d258       | not_documented
at2499     | not_documented
at4001     | not_documented
diabetes   | not_documented
no_weeks_d | not_documented
"""

[[examples]]
because = "small and large for gestation and sex at 40+0: the 10th centile is 2869 g of a boy and 2774 g of a girl, the 90th 3954 g of a boy and 3819 g of a girl; where the sex is not known, only who is small or large as either"
given.admission = """
record_id  | gestational_age_days | sex    | weight_g
boy_2860   | 280                  | male   | 2860
boy_2880   | 280                  | male   | 2880
girl_2765  | 280                  | female | 2765
girl_2860  | 280                  | female | 2860
sex_2765   | 280                  |        | 2765
sex_2800   | 280                  |        | 2800
boy_3945   | 280                  | male   | 3945
boy_3960   | 280                  | male   | 3960
girl_3830  | 280                  | female | 3830
sex_3900   | 280                  |        | 3900
sex_3960   | 280                  |        | 3960
"""
expect = """
record_id  | state
boy_2860   | not_documented
girl_2765  | not_documented
sex_2765   | not_documented
boy_3960   | not_documented
girl_3830  | not_documented
sex_3960   | not_documented
"""

[[examples]]
because = "the first check was missed before the newborn was moved or died: a miss; moved before it was due: an exception; born on the way counts, brought in at 45 minutes does not"
given.admission = """
record_id   | gestational_age_days | weight_g | birth_place    | arrival_minutes | discharge_minutes | disposition
moved_89    | 240                  | 2600     | birth_room     |                 | 89                | transfer
moved_91    | 240                  | 2600     | birth_room     |                 | 91                | transfer
one_so_far  | 240                  | 2600     | birth_room     |                 | 300               | transfer
home_300    | 240                  | 2600     | birth_room     |                 | 300               | home
on_the_way  | 240                  | 2600     | before_arrival |                 |                   |
brought_44  | 240                  | 2600     | other_site     | 44              |                   |
brought_45  | 240                  | 2600     | other_site     | 45              |                   |
"""
given.observation = """
record_id  | kind    | minutes | value
one_so_far | glucose | 60      | 60
home_300   | glucose | 60      | 60
"""
expect = """
record_id   | state          | reason
moved_89    | exception      | moved before the window closed
moved_91    | not_documented |
one_so_far  | exception      | moved before the window closed
home_300    | exception      | went home before the window closed
on_the_way  | not_documented |
brought_44  | not_documented |
brought_45  | exclusion      | arrived too late
"""

[[examples]]
because = "masked readings only are unusable; usable ones beside them are taken"
given.admission = """
record_id | gestational_age_days | weight_g
masked    | 240                  | 2600
no_time   | 240                  | 2600
mixed     | 240                  | 2600
"""
given.observation = """
record_id | kind    | minutes | value | unusable
masked    | glucose | 60      |       | value
no_time   | glucose |         | 60    | minutes
mixed     | glucose | 30      |       | value
mixed     | glucose | 60      | 60    |
mixed     | glucose | 120     | 60    |
mixed     | glucose | 180     | 60    |
"""
expect = """
record_id | state    | minutes
masked    | unusable |
no_time   | unusable |
mixed     | met      | 60
"""

[[examples]]
because = "standard exclusions and another level of care, until the last check was due"
given.admission = """
record_id    | gestational_age_days | weight_g | maternal_diabetes | live_birth | birth_place | discharge_minutes | disposition
still        | 240                  | 2600     |                   | false      | birth_room  |                   |
died_at_900  | 240                  | 2600     |                   | true       | birth_room  | 900               | died
moved_at_900 | 240                  | 2600     |                   | true       | birth_room  | 900               | transfer
moved_12h    | 280                  | 3200     | true              | true       | birth_room  | 900               | transfer
elsewhere    | 240                  | 2600     |                   | true       | other_site  |                   |
comfort      | 240                  | 2600     |                   | true       | birth_room  |                   |
other_care   | 240                  | 2600     |                   | true       | birth_room  |                   |
"""
given.care = """
record_id  | kind         | minutes | status
comfort    | comfort_care | 5       | done
other_care | transfer     | 60      | done
"""
expect = """
record_id    | state
still        | exclusion
died_at_900  | not_documented
moved_at_900 | not_documented
moved_12h    | not_documented
elsewhere    | exclusion
comfort      | exclusion
other_care   | exception
"""
*/
with risks as (
    select
        newborn.newborn_id as newborn_id,
        newborn.gestational_age_days between setting.late_preterm_from_weeks * 7
        and setting.term_from_weeks * 7 - 1
        or (
            newborn.gestational_age_days >= setting.term_from_weeks * 7
            and (
                newborn.weight_g < setting.glucose_small_below_g
                or coalesce(newborn.weight_centile < setting.small_below_centile, false)
            )
        ) as is_longer,
        newborn.maternal_diabetes
        or (
            newborn.gestational_age_days >= setting.term_from_weeks * 7
            and (
                newborn.weight_g > setting.large_above_g
                or coalesce(newborn.weight_centile >= setting.large_from_centile, false)
            )
        ) as is_shorter,
        if(coalesce(is_longer, false), setting.longer_minutes, setting.shorter_minutes)
            as until_minutes,
    from mart.newborn as newborn
    inner join setting on setting.newborn_id = newborn.newborn_id
),

readings as (
    select
        risks.newborn_id as newborn_id,
        min(event.minutes) filter (where event.is_usable) as first_minutes,
        count(*) filter (
            where event.is_usable and event.minutes <= risks.until_minutes
        ) as readings,
        list_extract(
            list_sort(list(event.minutes) filter (
                where event.is_usable and event.minutes <= risks.until_minutes
            )),
            any_value(setting.checks)::integer
        ) as enough_minutes,
    from risks
    inner join setting on setting.newborn_id = risks.newborn_id
    inner join mart.event as event on event.newborn_id = risks.newborn_id
    where event.kind = 'glucose'
    group by risks.newborn_id
)

select
    risks.newborn_id as newborn_id,
    readings.newborn_id is not null as is_documented,
    readings.first_minutes is not null as is_usable,
    -- Too few checks are in no window, so that they are not met; a late first one is late.
    if(
        readings.readings >= setting.checks or readings.first_minutes > setting.at_most,
        readings.first_minutes,
        null
    ) as minutes,
    risks.until_minutes as closes_minutes,
    -- No first check in time is a miss from then on; else the last of those asked for settles it.
    if(
        readings.first_minutes <= setting.at_most, readings.enough_minutes, setting.at_most
    ) as judged_minutes,
from risks
inner join setting on setting.newborn_id = risks.newborn_id
left join readings on readings.newborn_id = risks.newborn_id
where coalesce(risks.is_longer, false) or coalesce(risks.is_shorter, false)
