/*
title = "Weight, length and head measured"
question = "Are weight, length and head circumference all on the record?"
also_called = ["length", "head circumference"]
group = "measuring"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit."
numerator = "Weight, length and head circumference each recorded with a believable value, and measured inside 24 hours where the record says when."
anchor = "birth"
window_status = "local"
parameters = { until_minutes = 1440 }
owner = "born_here"
exceptions = "Length or head not measured while the newborn was recorded as not stable in that time; weight is never excepted."
missing = "not_met"
sources = ["24 hours: local decision, no published value"]
disagreement = "Teaching texts say from after the first hour to within 2 hours; a unit may set until_minutes."
documentation_trap = "A weight copied later from the birth certificate has no time; without a time the day is taken on trust. A record shows a newborn as not stable only where some care or medicine was put off for that reason."
caution = "This screens records. Measuring early must not break skin contact or cool the newborn: read it beside the balancing measures. Local policy decides when to measure."
balancing = ["skin_contact_start", "first_temperature", "arrival_cold"]
look_at = ["admission: weight, length, head circumference and when they were measured"]
version = "1.1"

[gravity]
level = "process"
why = "A size missing from the record is a gap of the record."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "all three believable is met; minute 1440 still counts, minute 1441 does not; no time is taken on trust"
given.admission = """
record_id | weight_g | length_cm | head_circumference_cm | size_minutes
at1440    | 3200     | 50        | 34.5                  | 1440
at1441    | 3200     | 50        | 34.5                  | 1441
no_time   | 3200     | 50        | 34.5                  |
"""
expect = """
record_id | state   | minutes
at1440    | met     | 1440
at1441    | not_met | 1441
no_time   | met     |
"""

[[examples]]
because = "one missing is not documented; one out of limits, or a masked time, is unusable"
given.admission = """
record_id  | weight_g | length_cm | head_circumference_cm | unusable
no_weight  |          | 50        | 34.5                  |
no_length  | 3200     |           | 34.5                  |
no_head    | 3200     | 50        |                       |
nothing    |          |           |                       |
bad_head   | 3200     | 50        |                       | head_circumference_cm
bad_time   | 3200     | 50        | 34.5                  | size_minutes
bad_and_no | 3200     |           |                       | head_circumference_cm
"""
expect = """
record_id  | state
no_weight  | not_documented
no_length  | not_documented
no_head    | not_documented
nothing    | not_documented
bad_head   | unusable
bad_time   | unusable
bad_and_no | not_documented
"""

[[examples]]
because = "not stable excuses length and head not measured, never the weight, not a masked value, and not when it came later"
given.admission = """
record_id   | weight_g | length_cm | head_circumference_cm | unusable
weighed     | 1200     |           |                       |
by_dose     | 1200     |           |                       |
head_only   | 1200     | 38        |                       |
bad_head    | 1200     | 38        |                       | head_circumference_cm
bad_weight  |          | 38        | 27                    | weight_g
at_1440     | 1200     |           |                       |
unweighed   |          |           |                       |
complete    | 1200     | 38        | 27                    |
later       | 1200     |           |                       |
no_time     | 1200     |           |                       |
"""
given.care = """
record_id   | kind         | minutes | status   | reason
weighed     | skin_contact | 2       | not_done | newborn_unstable
head_only   | skin_contact | 2       | not_done | newborn_unstable
bad_head    | skin_contact | 2       | not_done | newborn_unstable
bad_weight  | skin_contact | 2       | not_done | newborn_unstable
at_1440     | bath         | 1440    | not_done | newborn_unstable
unweighed   | skin_contact | 2       | not_done | newborn_unstable
complete    | skin_contact | 2       | not_done | newborn_unstable
later       | bath         | 2000    | not_done | newborn_unstable
no_time     | skin_contact |         | not_done | newborn_unstable
"""
given.dose = """
record_id   | kind                | minutes | status | reason
by_dose     | hepatitis_b_vaccine | 60      | held   | unstable
"""
expect = """
record_id   | state          | reason
weighed     | exception      | newborn_unstable
by_dose     | exception      | newborn_unstable
head_only   | exception      | newborn_unstable
bad_head    | unusable       |
bad_weight  | unusable       |
at_1440     | exception      | newborn_unstable
unweighed   | not_documented |
complete    | met            |
later       | not_documented |
no_time     | exception      | newborn_unstable
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id   | live_birth | birth_place | weight_g | discharge_minutes | disposition
still       | false      | birth_room  | 3000     |                   |
died_at_30  | true       | birth_room  |          | 30                | died
moved_at_40 | true       | birth_room  | 3000     | 40                | transfer
elsewhere   | true       | other_site  | 3000     |                   |
comfort     | true       | birth_room  |          |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id   | state
still       | exclusion
died_at_30  | exclusion
moved_at_40 | exception
elsewhere   | exclusion
comfort     | exclusion
"""

[[examples]]
because = "measured before a move or a death counts"
given.admission = """
record_id  | weight_g | length_cm | head_circumference_cm | size_minutes | discharge_minutes | disposition
moved      | 3000     | 50        | 34                    | 30           | 40                | transfer
died       | 3000     | 50        | 34                    | 30           | 40                | died
died_blank |          |           |                       |              | 40                | died
"""
expect = """
record_id  | state
moved      | met
died       | met
died_blank | exclusion
"""
*/
with unstable as (
    select distinct
        event.newborn_id as newborn_id,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where
        event.status in ('not_done', 'held')
        and event.reason in ('newborn_unstable', 'unstable')
        and coalesce(event.minutes <= setting.until_minutes, true)
),

sizes as (
    select
        newborn_id as newborn_id,
        weight_g as weight_g,
        size_minutes as size_minutes,
        coalesce(list_contains(unusable, 'size_minutes'), false) as is_time_masked,
        weight_g is not null and length_cm is not null and head_circumference_cm is not null
            as is_complete,
        -- On the record, believable or not.
        weight_g is not null or coalesce(list_contains(unusable, 'weight_g'), false) as has_weight,
        length_cm is not null or coalesce(list_contains(unusable, 'length_cm'), false)
            as has_length,
        head_circumference_cm is not null
        or coalesce(list_contains(unusable, 'head_circumference_cm'), false) as has_head,
    from mart.newborn
)

select
    sizes.newborn_id as newborn_id,
    case
        when
            unstable.newborn_id is not null
            and sizes.weight_g is not null
            and not (sizes.has_length and sizes.has_head)
            then 'newborn_unstable'
    end as exception,
    sizes.has_weight and sizes.has_length and sizes.has_head as is_documented,
    sizes.is_complete and not sizes.is_time_masked as is_usable,
    sizes.is_complete and coalesce(sizes.size_minutes <= setting.until_minutes, true) as is_met,
    sizes.size_minutes as minutes,
    setting.until_minutes as closes_minutes,
    if(
        is_usable and is_met, coalesce(sizes.size_minutes, setting.until_minutes), null
    ) as judged_minutes,
from sizes
inner join setting on setting.newborn_id = sizes.newborn_id
left join unstable on unstable.newborn_id = sizes.newborn_id
