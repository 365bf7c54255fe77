/*
title = "Weight loss beyond the unit's percent"
question = "In how many newborns did weight fall further than the unit lets pass by that hour?"
also_called = ["dehydration", "weight check"]
group = "contact and feeding"
kind = "proportion"
direction = "lower"
population = "Newborns born alive in the unit with a birth weight who were weighed again in the first 4 days."
numerator = "Any later weight more than 7 % below birth weight in the first 24 hours, or more than 10 % after."
anchor = "birth"
window_status = "local"
parameters = { loss_first_day_percent = 7, loss_percent = 10, weighed_until_minutes = 5760 }
owner = "born_here"
exceptions = "None."
missing = "left_out"
sources = [
    "7 % in the first day and 10 % after: local decision; curves of loss by hour and mode of birth are published (Pediatrics 135:e16, 2015, from memory)",
]
disagreement = "After a caesarean newborns lose more, and fluids given to the mother weigh in at birth; limits by hour and mode would be finer."
documentation_trap = "Weighed on another scale, clothed or fed, a newborn seems to have lost or gained. Not weighed again stays out of the rate: those who are weighed may be those who worry someone."
caution = "This screens records. A loss is looked at with the newborn, feeds and nappies, never alone. It balances feeding at the breast."
balancing = ["breastfed_first_hour", "first_feed_formula"]
look_at = ["weight: each time and value", "birth weight"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "How much newborns lose shows how feeding begins."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "7 % at minute 1440 passes, a little more does not; after that 10 %; the largest counts"
given.admission = """
record_id | weight_g
at7       | 3000
over7     | 3000
day2      | 3000
over10    | 3000
anyof     | 3000
"""
given.observation = """
record_id | kind   | minutes | value
at7       | weight | 1440    | 2790
over7     | weight | 1440    | 2789
day2      | weight | 1441    | 2700
over10    | weight | 1441    | 2699
anyof     | weight | 2000    | 2690
anyof     | weight | 4000    | 2900
"""
expect = """
record_id | state
at7       | not_met
over7     | met
day2      | not_met
over10    | met
anyof     | met
"""

[[examples]]
because = "not weighed again, no birth weight, or a weight that cannot be believed; 4 days to the minute is looked at, later is not"
given.admission = """
record_id | weight_g | unusable
no_row    | 3000     |
no_birth  |          |
bad_birth |          | weight_g
bad       | 3000     |
last      | 3000     |
late      | 3000     |
mixed     | 3000     |
"""
given.observation = """
record_id | kind   | minutes | value | unusable
no_birth  | weight | 1500    | 2800  |
bad_birth | weight | 1500    | 2800  |
bad       | weight | 1500    |       | value
last      | weight | 5760    | 2000  |
late      | weight | 5761    | 2000  |
mixed     | weight | 1500    |       | value
mixed     | weight | 1500    | 2800  |
"""
expect = """
record_id | state
no_row    | not_documented
no_birth  | not_documented
bad_birth | unusable
bad       | unusable
last      | met
late      | not_documented
mixed     | not_met
"""

[[examples]]
because = "standard exclusions; who was weighed and then left counts"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition | weight_g
still     | false      | birth_room  |                   |             | 3000
died      | true       | birth_room  | 600               | died        | 3000
moved     | true       | birth_room  | 600               | transfer    | 3000
elsewhere | true       | other_site  |                   |             | 3000
comfort   | true       | birth_room  |                   |             | 3000
weighed   | true       | birth_room  | 1600              | transfer    | 3000
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
given.observation = """
record_id | kind   | minutes | value
weighed   | weight | 1500    | 2600
"""
expect = """
record_id | state
still     | exclusion
died      | exclusion
moved     | exception
elsewhere | exclusion
comfort   | exclusion
weighed   | met
"""
*/
with weighed as (
    select
        event.newborn_id as newborn_id,
        event.minutes as minutes,
        (newborn.weight_g - event.value) * 100 / newborn.weight_g as loss_percent,
        if(event.minutes <= 1440, setting.loss_first_day_percent, setting.loss_percent) as edge,
        event.is_usable and newborn.weight_g is not null as is_usable,
    from mart.event as event
    inner join mart.newborn as newborn on newborn.newborn_id = event.newborn_id
    inner join setting on setting.newborn_id = event.newborn_id
    where
        event.kind = 'weight'
        and coalesce(event.minutes <= setting.weighed_until_minutes, true)
        and (newborn.weight_g is not null or list_contains(newborn.unusable, 'weight_g'))
),

furthest as (
    select
        newborn_id as newborn_id,
        bool_or(is_usable) as is_usable,
        min(minutes) filter (where is_usable) as first_minutes,
        bool_or(loss_percent > edge) filter (where is_usable) as is_beyond,
        -- The one furthest beyond its own edge, of several the first.
        arg_max((loss_percent, minutes, edge), (loss_percent - edge, -minutes)) filter (
            where is_usable
        ) as worst,
    from weighed
    group by newborn_id
)

select
    setting.newborn_id as newborn_id,
    furthest.newborn_id is not null as is_documented,
    coalesce(furthest.is_usable, false) as is_usable,
    furthest.worst[2] as minutes,
    coalesce(furthest.first_minutes, setting.weighed_until_minutes) as closes_minutes,
    furthest.is_beyond as is_met,
    round(furthest.worst[1], 1) as value,
    furthest.worst[3] as edge,
from setting
left join furthest on furthest.newborn_id = setting.newborn_id
