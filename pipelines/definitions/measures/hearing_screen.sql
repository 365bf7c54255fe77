/*
title = "Hearing screened"
question = "Was hearing screened by one month of age?"
also_called = ["deafness", "otoacoustic emissions", "brainstem response"]
group = "screening"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 24 hours of age."
numerator = "A result of the hearing screen, passed or not, inside the window; where the unit asks it, before the newborn left."
anchor = "birth"
window = { at_least = 0, at_most = 43200 }
window_status = "published in part"
parameters = { before_leaving = false }
owner = "born_here_or_arrived"
arrived_before = 1440
exceptions = "Declined by the family."
missing = "not_met"
sources = [
    "Joint Committee on Infant Hearing, 2019 (from memory): screened by 1 month of age",
    "30 days as one month: local decision",
    "Brought in before 24 hours: local decision, no published value",
]
disagreement = "Some programmes screen before leaving, others call newborns back: a unit that screens everyone before leaving sets before_leaving to true. In intensive care only the brainstem response counts; the method is not judged here."
documentation_trap = "Results live in the programme's own list and reach the record late or never. The result is the examination item hearing_screen; a screen that was not done is the care item of that name."
caution = "This screens records. A result that is not a pass is common in the first day and mostly fluid: what followed is asked by another measure."
balancing = ["failed_screen_followed"]
look_at = ["hearing screen: time, result, reason"]
version = "1.0"

[gravity]
level = "serious"
why = "Hearing loss that is found late costs language that is not caught up."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "day 30 counts and the minute after is late; a result that is no pass counts; the first one decides"
given.admission = """
record_id
at
after
failed
twice
"""
given.finding = """
record_id | kind           | minutes | as_expected
at        | hearing_screen | 43200   | true
after     | hearing_screen | 43201   | true
failed    | hearing_screen | 1500    | false
twice     | hearing_screen | 1500    | false
twice     | hearing_screen | 50000   | true
"""
expect = """
record_id | state | minutes
at        | met   | 43200
after     | late  | 43201
failed    | met   | 1500
twice     | met   | 1500
"""

[[examples]]
because = "no row is not documented; no result or no time is unusable; declined is an exception, another reason is not done; done all the same counts"
given.admission = """
record_id
no_row
bad_result
no_time
declined
no_reason
yet_done
"""
given.finding = """
record_id  | kind           | minutes | as_expected | unusable
bad_result | hearing_screen | 1500    |             | as_expected
no_time    | hearing_screen |         | true        | minutes
yet_done   | hearing_screen | 1500    | true        |
"""
given.care = """
record_id | kind           | minutes | status   | reason
declined  | hearing_screen | 1500    | not_done | declined
no_reason | hearing_screen | 1500    | not_done |
yet_done  | hearing_screen | 1400    | not_done | declined
"""
expect = """
record_id  | state          | reason
no_row     | not_documented |
bad_result | unusable       |
no_time    | unusable       |
declined   | exception      | declined
no_reason  | not_done       | no reason recorded
yet_done   | met            |
"""

[[examples]]
because = "a unit may ask it before leaving"
policy = { before_leaving = true }
given.admission = """
record_id | discharge_minutes | disposition
before    | 2000              | home
later     | 2000              | home
in_unit   |                   | in_unit
"""
given.finding = """
record_id | kind           | minutes | as_expected
before    | hearing_screen | 2000    | true
later     | hearing_screen | 2001    | true
in_unit   | hearing_screen | 20000   | true
"""
expect = """
record_id | state
before    | met
later     | late
in_unit   | met
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition
still     | false      | birth_room  |                   |
died      | true       | birth_room  | 600               | died
moved     | true       | birth_room  | 600               | transfer
elsewhere | true       | other_site  |                   |
comfort   | true       | birth_room  |                   |
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
with result as (
    select
        newborn_id as newborn_id,
        min(minutes) filter (where is_usable) as minutes,
    from mart.event
    where
        table_name = 'finding'
        and kind = 'hearing_screen'
        and (as_expected is not null or coalesce(list_contains(unusable, 'as_expected'), false))
    group by newborn_id
),

offer as (
    select
        newborn_id as newborn_id,
        max(reason) filter (where reason = 'declined') as declined,
        min(coalesce(reason, 'no reason recorded')) as not_done_reason,
    from mart.event
    where table_name = 'care' and kind = 'hearing_screen' and status = 'not_done'
    group by newborn_id
)

select
    newborn.newborn_id as newborn_id,
    offer.declined as exception,
    if(result.newborn_id is null, offer.not_done_reason, null) as not_done_reason,
    result.newborn_id is not null as is_documented,
    result.minutes is not null as is_usable,
    result.minutes as minutes,
    if(
        setting.before_leaving,
        least(setting.at_most, coalesce(newborn.discharge_minutes, setting.at_most)),
        setting.at_most
    ) as due_minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join result on result.newborn_id = newborn.newborn_id
left join offer on offer.newborn_id = newborn.newborn_id
