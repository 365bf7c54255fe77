/*
title = "Car seat observation of the early and small"
question = "Were those born early or small observed in a car seat before going home?"
also_called = ["car seat tolerance"]
group = "leaving"
kind = "proportion"
direction = "higher"
population = "Newborns born alive who went home, born before 37 weeks or below 2500 g."
numerator = "Observed in a car seat at or before leaving."
anchor = "birth"
window_status = "local"
parameters = { term_from_weeks = 37, car_seat_below_g = 2500 }
follows = { term_from_weeks = "cord_clamp_deferred" }
owner = "present"
exceptions = "Declined by the family."
missing = "not_met"
sources = [
    "AAP, Pediatrics 123:1424-1429, 2009 (from memory): observed in a car seat before discharge if born before 37 weeks",
    "2500 g: local decision, no published value",
]
disagreement = "The use of this observation is disputed, and some units have given it up: there switch the measure off (applies = false)."
documentation_trap = "Who goes home without a car has no seat, and no row."
caution = "This screens records; it says nothing about the seat."
balancing = ["safe_sleep"]
look_at = ["car seat: time, status, reason", "admission: gestational age, birth weight"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "It is a precaution of uncertain worth."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "who is asked for: before 37 weeks or below 2500 g, and went home; the minute of leaving counts, after it is late"
given.admission = """
record_id | gestational_age_days | weight_g | discharge_minutes | disposition
preterm   | 258                  | 2600     | 3000              | home
term      | 259                  | 2600     | 3000              | home
small     | 280                  | 2499     | 3000              | home
at2500    | 280                  | 2500     | 3000              | home
late      | 258                  | 2600     | 3000              | home
moved     | 258                  | 2600     | 3000              | transfer
in_unit   | 258                  | 2600     |                   | in_unit
unknown   |                      |          | 3000              | home
"""
given.care = """
record_id | kind     | minutes | status
preterm   | car_seat | 3000    | done
small     | car_seat | 2000    | done
late      | car_seat | 3001    | done
"""
expect = """
record_id | state | minutes
preterm   | met   | 3000
small     | met   | 2000
late      | late  | 3001
"""

[[examples]]
because = "no row, no time, declined, another reason; a stillborn and comfort care"
given.admission = """
record_id | gestational_age_days | discharge_minutes | disposition | live_birth
no_row    | 250                  | 3000              | home        | true
no_time   | 250                  | 3000              | home        | true
declined  | 250                  | 3000              | home        | true
no_reason | 250                  | 3000              | home        | true
still     | 250                  | 3000              | home        | false
comfort   | 250                  | 3000              | home        | true
"""
given.care = """
record_id | kind         | minutes | status   | reason   | unusable
no_time   | car_seat     |         | done     |          | minutes
declined  | car_seat     | 2900    | not_done | declined |
no_reason | car_seat     | 2900    | not_done |          |
comfort   | comfort_care | 5       | done     |          |
"""
expect = """
record_id | state          | reason
no_row    | not_documented |
no_time   | unusable       |
declined  | exception      | declined
no_reason | not_done       | no reason recorded
still     | exclusion      | stillborn
comfort   | exclusion      | comfort care before the window closed
"""
*/
select
    newborn.newborn_id as newborn_id,
    if(care_once.not_done_reason = 'declined', 'declined', null) as exception,
    care_once.not_done_reason as not_done_reason,
    care_once.is_documented as is_documented,
    care_once.is_usable as is_usable,
    care_once.minutes as minutes,
    went_home.home_minutes as due_minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
inner join went_home on went_home.newborn_id = newborn.newborn_id
inner join care_once on care_once.newborn_id = newborn.newborn_id
where
    care_once.kind = 'car_seat'
    and (
        newborn.gestational_age_days < setting.term_from_weeks * 7
        or newborn.weight_g < setting.car_seat_below_g
    )
