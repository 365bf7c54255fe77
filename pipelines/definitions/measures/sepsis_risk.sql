/*
title = "Risk of early infection looked at"
question = "Where a reason was on the record, was the risk of early infection looked at?"
also_called = ["sepsis", "chorioamnionitis", "infection"]
group = "screening"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 24 hours of age at 35 weeks or more with a reason on the record: born before 37 weeks, or a mother whose last temperature before birth was 38.0 °C or more."
numerator = "The risk recorded as looked at inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 240 }
window_status = "local"
parameters = { risk_from_weeks = 35, term_from_weeks = 37, mother_warm_from_c = 38.0 }
follows = { term_from_weeks = "cord_clamp_deferred" }
owner = "born_here_or_arrived"
arrived_before = 1440
exceptions = "None."
missing = "not_met"
sources = [
    "AAP, Pediatrics 142(6):e20182894, 2018 (from memory): three ways to look at the risk, at 35 weeks or more",
    "4 hours, and these two reasons: local decision, no published value",
    "Brought in before 24 hours: local decision, no published value",
]
disagreement = "Hours of ruptured membranes, carriage of streptococci and antibiotics in labour are reasons too and not in this record. Some units look at every newborn."
documentation_trap = "A blank on the mother's temperature hides a reason. What was found and done is not judged."
caution = "This screens records and computes no risk."
balancing = ["intensive_care_at_term"]
look_at = ["infection risk: time", "admission: mother's temperature, gestational age"]
version = "1.0"

[gravity]
level = "serious"
why = "Early infection goes fast, and gives little warning."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "who is asked for, and minute 240"
given.admission = """
record_id | gestational_age_days | maternal_temperature_c
days244   | 244                  | 39
days245   | 245                  | 37
term_38   | 259                  | 38.0
term_379  | 259                  | 37.9
late      | 258                  |
unknown   |                      | 39
"""
given.care = """
record_id | kind        | minutes | status
days245   | sepsis_risk | 240     | done
late      | sepsis_risk | 241     | done
"""
expect = """
record_id | state          | minutes
days245   | met            | 240
term_38   | not_documented |
late      | late           | 241
"""

[[examples]]
because = "no time, not done"
given.admission = """
record_id | gestational_age_days
no_time   | 250
not_done  | 250
"""
given.care = """
record_id | kind        | minutes | status   | reason        | unusable
no_time   | sepsis_risk |         | done     |               | minutes
not_done  | sepsis_risk | 100     | not_done | not_indicated |
"""
expect = """
record_id | state    | reason
no_time   | unusable |
not_done  | not_done | not_indicated
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition | gestational_age_days
still     | false      | birth_room  |                   |             | 250
died      | true       | birth_room  | 60                | died        | 250
moved     | true       | birth_room  | 60                | transfer    | 250
elsewhere | true       | other_site  |                   |             | 250
comfort   | true       | birth_room  |                   |             | 250
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id | state     | reason
still     | exclusion | stillborn
died      | exclusion | died before the window closed
moved     | exception | moved before the window closed
elsewhere | exclusion | arrival not known
comfort   | exclusion | comfort care before the window closed
"""
*/
select
    newborn.newborn_id as newborn_id,
    care_once.not_done_reason as not_done_reason,
    care_once.is_documented as is_documented,
    care_once.is_usable as is_usable,
    care_once.minutes as minutes,
from care_once
inner join mart.newborn as newborn on newborn.newborn_id = care_once.newborn_id
inner join setting on setting.newborn_id = care_once.newborn_id
where
    care_once.kind = 'sepsis_risk'
    and newborn.gestational_age_days >= setting.risk_from_weeks * 7
    and (
        newborn.gestational_age_days < setting.term_from_weeks * 7
        or newborn.maternal_temperature_c >= setting.mother_warm_from_c
    )
