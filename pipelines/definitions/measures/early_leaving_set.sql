/*
title = "Early leaving, all four looked at"
question = "Of those who went home before 48 hours, was all that belongs to it on the record?"
also_called = ["early discharge"]
group = "leaving"
kind = "proportion"
direction = "higher"
population = "Newborns born alive who went home before the unit's hour, 48 hours unless set."
numerator = "A first void, a first stool, a bilirubin, and a visit arranged, each at or before leaving."
anchor = "birth"
window_status = "local"
parameters = { early_leaving_minutes = 2880 }
owner = "present"
exceptions = "None."
missing = "not_met"
sources = [
    "AAP, Pediatrics 135:948-953, 2015 (from memory): void, stool, assessment for jaundice and a visit arranged among the criteria before discharge",
    "48 hours, and these four as a set: local decision",
]
disagreement = "Published lists are longer: feeds seen, circumcision, screens, vaccines; those have measures of their own here."
documentation_trap = "One of four that is not charted makes the set undone: read which."
caution = "This screens records. It does not say that anybody left too early."
balancing = ["readmission"]
look_at = ["first void, first stool, bilirubin, visit arranged: times", "discharge: time"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "What is not seen before an early leaving is seen late."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "all four by the minute of leaving; one after it is late; one missing is not documented; at 2880 minutes nobody left early"
given.admission = """
record_id | discharge_minutes | disposition
all_four  | 2000              | home
late      | 2000              | home
no_visit  | 2000              | home
not_early | 2880              | home
moved     | 2000              | transfer
no_time   | 2000              | home
not_done  | 2000              | home
"""
given.care = """
record_id | kind               | minutes | status   | reason   | unusable
all_four  | first_void         | 300     | done     |          |
all_four  | first_stool        | 400     | done     |          |
all_four  | follow_up_arranged | 2000    | done     |          |
late      | first_void         | 300     | done     |          |
late      | first_stool        | 400     | done     |          |
late      | follow_up_arranged | 2001    | done     |          |
no_visit  | first_void         | 300     | done     |          |
no_visit  | first_stool        | 400     | done     |          |
no_time   | first_void         | 300     | done     |          |
no_time   | first_stool        |         | done     |          | minutes
no_time   | follow_up_arranged | 1900    | done     |          |
not_done  | first_void         | 300     | done     |          |
not_done  | first_stool        | 400     | done     |          |
not_done  | follow_up_arranged | 1900    | not_done | declined |
"""
given.observation = """
record_id | kind      | minutes | value
all_four  | bilirubin | 1500    | 6
late      | bilirubin | 1500    | 6
no_visit  | bilirubin | 1500    | 6
no_time   | bilirubin | 1500    | 6
not_done  | bilirubin | 1500    | 6
"""
expect = """
record_id | state          | minutes | reason
all_four  | met            | 2000    |
late      | late           | 2001    |
no_visit  | not_documented |         |
no_time   | unusable       |         |
not_done  | not_done       |         | declined
"""

[[examples]]
because = "no bilirubin, one that cannot be believed; a stillborn and comfort care"
given.admission = """
record_id | discharge_minutes | disposition | live_birth
none      | 2000              | home        | true
bad       | 2000              | home        | true
still     | 2000              | home        | false
comfort   | 2000              | home        | true
"""
given.care = """
record_id | kind               | minutes | status
none      | first_void         | 300     | done
none      | first_stool        | 400     | done
none      | follow_up_arranged | 1900    | done
bad       | first_void         | 300     | done
bad       | first_stool        | 400     | done
bad       | follow_up_arranged | 1900    | done
comfort   | comfort_care       | 5       | done
"""
given.observation = """
record_id | kind      | minutes | value | unusable
bad       | bilirubin | 1500    |       | value
"""
expect = """
record_id | state
none      | not_documented
bad       | unusable
still     | exclusion
comfort   | exclusion
"""
*/
with bilirubin as (
    select
        newborn_id as newborn_id,
        min(minutes) filter (where is_usable) as minutes,
    from mart.event
    where kind = 'bilirubin'
    group by newborn_id
),

three as (
    select
        newborn_id as newborn_id,
        bool_and(is_documented) as is_documented,
        bool_and(is_usable) as is_usable,
        max(minutes) as minutes,
        min(not_done_reason) as not_done_reason,
    from care_once
    where kind in ('first_void', 'first_stool', 'follow_up_arranged')
    group by newborn_id
)

select
    three.newborn_id as newborn_id,
    three.not_done_reason as not_done_reason,
    three.is_documented and bilirubin.newborn_id is not null as is_documented,
    three.is_usable and bilirubin.minutes is not null as is_usable,
    if(
        three.is_usable and bilirubin.minutes is not null,
        greatest(three.minutes, bilirubin.minutes),
        null
    ) as minutes,
    went_home.home_minutes as due_minutes,
from three
inner join went_home on went_home.newborn_id = three.newborn_id
inner join setting on setting.newborn_id = three.newborn_id
left join bilirubin on bilirubin.newborn_id = three.newborn_id
where went_home.home_minutes < setting.early_leaving_minutes
