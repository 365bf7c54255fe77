/*
title = "Screen not passed, followed to its end"
question = "Where hearing, heart or red reflex did not pass, was it followed up?"
also_called = ["referral", "follow-up", "leukocoria", "hearing loss"]
group = "telling the provider"
kind = "finding"
direction = "higher"
population = "Screens recorded as not as expected of newborns born alive: hearing (row 1), heart (row 2), red reflex (row 3), each once, from the first that did not pass."
numerator = "A later screen of the same kind that passed, or the assessment that belongs to it arranged or done (of hearing, an echocardiogram, an eye doctor), inside the window: 30 days for hearing, 24 hours for the heart, 14 days for the red reflex."
anchor = "the screen that did not pass"
window = { at_least = 0 }
window_status = "local"
parameters = { hearing_end_minutes = 43200, heart_end_minutes = 1440, red_reflex_end_minutes = 20160 }
owner = "present"
exceptions = "None."
missing = "not_met"
sources = [
    "30 days, 24 hours, 14 days: local decision, no published value",
    "Joint Committee on Infant Hearing, 2019 (from memory): diagnosis by 3 months of age",
]
disagreement = "What ends a screen differs: a pass on repeat, a referral sent, a visit kept. Arranged counts here."
documentation_trap = "What another clinic found does not reach this record. An assessment charted before the screen counts as at once."
caution = "This screens records. Most of these newborns turn out well; the one who does not is why each is followed."
balancing = ["hearing_screen", "heart_screen"]
look_at = ["screen: time and result", "what followed: time"]
version = "1.0"

[gravity]
level = "serious"
why = "A screen that nobody follows up finds nothing."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "a later pass and an assessment each end it; the window differs by screen; a failed repeat does not"
given.admission = """
record_id
hear_30d
hear_late
heart_24h
heart_late
eyes_14d
passed
again
three
"""
given.finding = """
record_id  | kind           | minutes | as_expected
hear_30d   | hearing_screen | 1000    | false
hear_late  | hearing_screen | 1000    | false
heart_24h  | heart_screen   | 1500    | false
heart_late | heart_screen   | 1500    | false
eyes_14d   | red_reflex     | 600     | false
passed     | hearing_screen | 1000    | false
passed     | hearing_screen | 9000    | true
again      | hearing_screen | 1000    | false
again      | hearing_screen | 9000    | false
three      | hearing_screen | 1000    | false
three      | heart_screen   | 1500    | false
three      | heart_screen   | 1600    | true
three      | red_reflex     | 600     | false
"""
given.care = """
record_id  | kind               | minutes | status
hear_30d   | hearing_assessment | 44200   | done
hear_late  | hearing_assessment | 44201   | done
heart_24h  | echocardiogram     | 2940    | done
heart_late | echocardiogram     | 2941    | done
eyes_14d   | eye_assessment     | 20760   | done
"""
expect = """
record_id  | item | state          | minutes
hear_30d   | 1    | met            | 43200
hear_late  | 1    | late           | 43201
heart_24h  | 2    | met            | 1440
heart_late | 2    | late           | 1441
eyes_14d   | 3    | met            | 20160
passed     | 1    | met            | 8000
again      | 1    | not_documented |
three      | 1    | not_documented |
three      | 2    | met            | 100
three      | 3    | not_documented |
"""

[[examples]]
because = "a screen or what followed without a time is unusable; not done is not done; an assessment before counts as at once; a pass before does not"
given.admission = """
record_id
no_time
end_no_time
not_done
before
pass_before
"""
given.finding = """
record_id   | kind           | minutes | as_expected | unusable
no_time     | hearing_screen |         | false       | minutes
end_no_time | hearing_screen | 1000    | false       |
not_done    | hearing_screen | 1000    | false       |
before      | heart_screen   | 1500    | false       |
pass_before | hearing_screen | 900     | true        |
pass_before | hearing_screen | 1000    | false       |
"""
given.care = """
record_id   | kind               | minutes | status   | reason   | unusable
no_time     | hearing_assessment | 2000    | done     |          |
end_no_time | hearing_assessment |         | done     |          | minutes
not_done    | hearing_assessment | 2000    | not_done | declined |
before      | echocardiogram     | 1400    | done     |          |
"""
expect = """
record_id   | item | state          | minutes | reason
no_time     | 1    | unusable       |         |
end_no_time | 1    | unusable       |         |
not_done    | 1    | not_done       |         | declined
before      | 2    | met            | 0       |
pass_before | 1    | not_documented |         |
"""

[[examples]]
because = "who was stillborn, had comfort care, died or moved before the window closed is set apart"
given.admission = """
record_id   | live_birth | discharge_minutes | disposition
still       | false      |                   |
comfort     | true       |                   |
died        | true       | 2000              | died
moved       | true       | 2000              | transfer
moved_later | true       | 2940              | transfer
"""
given.finding = """
record_id   | kind         | minutes | as_expected
still       | heart_screen | 1500    | false
comfort     | heart_screen | 1500    | false
died        | heart_screen | 1500    | false
moved       | heart_screen | 1500    | false
moved_later | heart_screen | 1500    | false
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id   | item | state
still       | 2    | exclusion
comfort     | 2    | exclusion
died        | 2    | exclusion
moved       | 2    | exception
moved_later | 2    | not_documented
"""
*/
with screen as (
    select
        item,
        kind,
        follow_up,
    from (
        values
            (1, 'hearing_screen', 'hearing_assessment'),
            (2, 'heart_screen', 'echocardiogram'),
            (3, 'red_reflex', 'eye_assessment')
    ) as listed (item, kind, follow_up)
),

failed as (
    select
        event.newborn_id as newborn_id,
        screen.item as item,
        screen.kind as kind,
        screen.follow_up as follow_up,
        min(event.minutes) as minutes,
    from mart.event as event
    inner join screen on screen.kind = event.kind
    where event.table_name = 'finding' and not event.as_expected
    group by all
),

-- What ended it, or was to: a pass after it, an assessment whenever it was charted.
ends as (
    select
        failed.newborn_id as newborn_id,
        failed.item as item,
        bool_or(event.status is distinct from 'not_done') as is_open,
        min(
            if(event.minutes < failed.minutes, failed.minutes, event.minutes)
        ) filter (
            where event.status is not distinct from if(event.table_name = 'care', 'done', null)
        ) as minutes,
        min(coalesce(event.reason, 'no reason recorded')) filter (
            where event.status = 'not_done'
        ) as not_done_reason,
    from failed
    inner join mart.event as event on event.newborn_id = failed.newborn_id
    where
        (event.table_name = 'care' and event.kind = failed.follow_up)
        or (
            event.table_name = 'finding'
            and event.kind = failed.kind
            and event.as_expected
            and coalesce(event.minutes > failed.minutes, true)
        )
    group by failed.newborn_id, failed.item
)

select
    failed.newborn_id as newborn_id,
    failed.item as item,
    if(ends.is_open, null, ends.not_done_reason) as not_done_reason,
    ends.newborn_id is not null as is_documented,
    failed.minutes is not null and ends.minutes is not null as is_usable,
    ends.minutes - failed.minutes as minutes,
    case failed.item
        when 1 then setting.hearing_end_minutes
        when 2 then setting.heart_end_minutes
        else setting.red_reflex_end_minutes
    end as due_minutes,
    failed.minutes + due_minutes as closes_minutes,
    ends.minutes as judged_minutes,
    replace(failed.kind, '_', ' ') as detail,
from failed
inner join setting on setting.newborn_id = failed.newborn_id
left join ends on ends.newborn_id = failed.newborn_id and ends.item = failed.item
