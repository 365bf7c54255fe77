/*
title = "Early blood spot repeated"
question = "Where the blood spot was taken before 24 hours, was another taken?"
also_called = ["metabolic screen", "early discharge"]
group = "screening"
kind = "proportion"
direction = "higher"
population = "Newborns born alive of whom a blood spot was taken before 24 hours."
numerator = "Another blood spot taken from 24 hours on, by 14 days."
anchor = "birth"
window = { at_least = 1440, at_most = 20160 }
window_status = "published in part"
parameters = { early_before_minutes = 1440 }
owner = "present"
exceptions = "The repeat declined by the family."
missing = "not_met"
sources = [
    "AAP, newborn screening fact sheets, 2006 (from memory): where taken before 24 hours of age, repeated by 2 weeks",
]
disagreement = "Some programmes repeat every first spot, some only those before 12 hours: set early_before_minutes and the window."
documentation_trap = "The repeat is often taken elsewhere, where this record does not see it: a miss here is a question, not an answer."
caution = "This screens records. It cannot know what another clinic did."
balancing = ["blood_spot"]
look_at = ["blood spot: each time", "discharge: time"]
version = "1.0"

[gravity]
level = "serious"
why = "A spot taken too early can pass a sick newborn."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "a repeat from 1440 to 20160 counts, later is late; who had none before 24 hours is not asked for"
given.admission = """
record_id
at1440
at20160
at20161
again_early
on_time
"""
given.care = """
record_id   | kind       | minutes | status
at1440      | blood_spot | 1439    | done
at1440      | blood_spot | 1440    | done
at20160     | blood_spot | 600     | done
at20160     | blood_spot | 20160   | done
at20161     | blood_spot | 600     | done
at20161     | blood_spot | 20161   | done
again_early | blood_spot | 600     | done
again_early | blood_spot | 900     | done
on_time     | blood_spot | 1440    | done
"""
expect = """
record_id   | state          | minutes
at1440      | met            | 1440
at20160     | met            | 20160
at20161     | late           | 20161
again_early | not_documented |
"""

[[examples]]
because = "a second one without a time is unusable; declined is an exception, another reason not done; and who died or moved"
given.admission = """
record_id | live_birth | discharge_minutes | disposition
no_time   | true       |                   |
declined  | true       |                   |
no_reason | true       |                   |
died      | true       | 5000              | died
moved     | true       | 5000              | transfer
still     | false      |                   |
comfort   | true       |                   |
"""
given.care = """
record_id | kind         | minutes | status   | reason   | unusable
no_time   | blood_spot   | 600     | done     |          |
no_time   | blood_spot   |         | done     |          | minutes
declined  | blood_spot   | 600     | done     |          |
declined  | blood_spot   | 5000    | not_done | declined |
no_reason | blood_spot   | 600     | done     |          |
no_reason | blood_spot   | 5000    | not_done |          |
died      | blood_spot   | 600     | done     |          |
moved     | blood_spot   | 600     | done     |          |
still     | blood_spot   | 600     | done     |          |
comfort   | blood_spot   | 600     | done     |          |
comfort   | comfort_care | 5       | done     |          |
"""
expect = """
record_id | state     | reason
no_time   | unusable  |
declined  | exception | declined
no_reason | not_done  | no reason recorded
died      | exclusion | died before the window closed
moved     | exception | moved before the window closed
still     | exclusion | stillborn
comfort   | exclusion | comfort care before the window closed
"""
*/
with early as (
    select
        event.newborn_id as newborn_id,
        min(event.minutes) filter (
            where event.status = 'done' and event.minutes >= setting.early_before_minutes
        ) as repeat_minutes,
        bool_or(event.status is distinct from 'not_done' and event.minutes is null) as has_unplaced,
        max(event.reason) filter (
            where event.status = 'not_done' and event.reason = 'declined'
        ) as declined,
        min(coalesce(event.reason, 'no reason recorded')) filter (
            where event.status = 'not_done'
        ) as not_done_reason,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where event.kind = 'blood_spot'
    group by event.newborn_id
    having bool_or(event.status = 'done' and event.minutes < setting.early_before_minutes)
)

select
    newborn_id as newborn_id,
    declined as exception,
    if(repeat_minutes is null and not has_unplaced, not_done_reason, null) as not_done_reason,
    repeat_minutes is not null or has_unplaced as is_documented,
    repeat_minutes is not null as is_usable,
    repeat_minutes as minutes,
from early
