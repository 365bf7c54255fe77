/*
title = "First feed within the hour"
question = "Was the newborn fed within the first hour?"
also_called = ["breastfeeding"]
group = "contact and feeding"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit at 34 weeks or more and not kept from feeding by mouth. A newborn whose gestation is not recorded stays in."
numerator = "A first feed of any kind recorded as begun inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 60 }
window_status = "published in part"
parameters = { feed_from_weeks = 34 }
owner = "born_here"
exceptions = "Mother and newborn apart for medical need; mother not well enough; newborn not stable."
missing = "not_met"
sources = [
    "UNICEF and WHO, Capture the Moment, 2018: breastfeeding within the first hour",
    "Any feed within the hour, not the breast alone: local decision, no published value; read it beside what was fed",
    "34 weeks as able to feed by mouth: common practice, no published source",
]
disagreement = "Some count breastfeeds alone, some any feed; the record does not say what was fed, so every feed counts here."
documentation_trap = "An attempt and a feed that worked are often one entry. Feeding left out by order is set apart only where it is recorded as not done because not indicated."
caution = "This screens records. A formula feed given to beat the clock is no gain; the family's choice of feed is theirs."
balancing = ["skin_contact_sustained", "glucose_low_risk"]
look_at = ["first feed: time, status, reason"]
listed = false
version = "1.1"

[gravity]
level = "process"
why = "When the first feed comes depends on mother, newborn and family."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 60 still counts, minute 61 is late; the first of several counts"
given.admission = """
record_id
at60
at61
twice
"""
given.care = """
record_id | kind       | minutes | status
at60      | first_feed | 60      | done
at61      | first_feed | 61      | done
twice     | first_feed | 30      | done
twice     | first_feed | 200     | done
"""
expect = """
record_id | state | minutes
at60      | met   | 60
at61      | late  | 61
twice     | met   | 30
"""

[[examples]]
because = "no row is not documented; listed reasons are exceptions, unless fed in time; others are not done; a masked time is unusable"
given.admission = """
record_id
no_row
apart
apart_fed
apart_late
declined
no_reason
masked
mixed
"""
given.care = """
record_id  | kind       | minutes | status   | reason     | unusable
apart      | first_feed | 20      | not_done | separation |
apart_fed  | first_feed | 20      | not_done | separation |
apart_fed  | first_feed | 50      | done     |            |
apart_late | first_feed | 20      | not_done | separation |
apart_late | first_feed | 90      | done     |            |
declined   | first_feed | 20      | not_done | declined   |
no_reason  | first_feed | 20      | not_done |            |
masked     | first_feed |         | done     |            | minutes
mixed      | first_feed |         | done     |            | minutes
mixed      | first_feed | 40      | done     |            |
"""
expect = """
record_id  | state          | reason
no_row     | not_documented |
apart      | exception      | separation
apart_fed  | met            |
apart_late | exception      | separation
declined   | not_done       | declined
no_reason  | not_done       | no reason recorded
masked     | unusable       |
mixed      | met            |
"""

[[examples]]
because = "too early to feed by mouth, not to be fed by order, and the standard exclusions; fed all the same stays in"
given.admission = """
record_id   | live_birth | birth_place    | gestational_age_days | discharge_minutes | disposition
days237     | true       | birth_room     | 237                  |                   |
days238     | true       | birth_room     | 238                  |                   |
by_order    | true       | birth_room     | 280                  |                   |
order_fed   | true       | birth_room     | 280                  |                   |
still       | false      | birth_room     | 280                  |                   |
died_at_30  | true       | birth_room     | 280                  | 30                | died
moved_at_40 | true       | birth_room     | 280                  | 40                | transfer
elsewhere   | true       | other_site     | 280                  |                   |
on_the_way  | true       | before_arrival | 280                  |                   |
comfort     | true       | birth_room     | 280                  |                   |
"""
given.care = """
record_id | kind         | minutes | status   | reason
days238   | first_feed   | 40      | done     |
by_order  | first_feed   | 20      | not_done | not_indicated
order_fed | first_feed   | 20      | not_done | not_indicated
order_fed | first_feed   | 50      | done     |
comfort   | comfort_care | 5       | done     |
"""
expect = """
record_id   | state     | reason
days237     | exclusion | too early to feed by mouth
days238     | met       |
by_order    | exclusion | not to be fed by mouth
order_fed   | met       |
still       | exclusion | stillborn
died_at_30  | exclusion | died before the window closed
moved_at_40 | exception | moved before the window closed
elsewhere   | exclusion | born elsewhere
on_the_way  | exclusion | born on the way
comfort     | exclusion | comfort care before the window closed
"""

[[examples]]
because = "fed before a move counts; a newborn moved unfed is an exception, one born on the way is not ours to have fed"
given.admission = """
record_id | birth_place    | discharge_minutes | disposition
fed_moved | birth_room     | 40                | transfer
unfed     | birth_room     | 40                | transfer
way       | before_arrival |                   |
"""
given.care = """
record_id | kind       | minutes | status
fed_moved | first_feed | 30      | done
"""
expect = """
record_id | state     | reason
fed_moved | met       |
unfed     | exception | moved before the window closed
way       | exclusion | born on the way
"""
*/
with feeds as (
    select
        newborn_id as newborn_id,
        coalesce(bool_or(status = 'done' or status is null), false) as is_open,
        min(minutes) filter (where status = 'done') as fed_minutes,
        coalesce(bool_or(status = 'not_done' and reason = 'not_indicated'), false) as is_by_order,
        min(reason) filter (
            where status = 'not_done'
            and reason in ('separation', 'mother_unwell', 'newborn_unstable')
        ) as excepted_reason,
        min(coalesce(reason, 'no reason recorded')) filter (
            where status = 'not_done'
        ) as not_done_reason,
    from mart.event
    where kind = 'first_feed'
    group by newborn_id
)

select
    newborn.newborn_id as newborn_id,
    case
        when newborn.gestational_age_days < setting.feed_from_weeks * 7
            then 'too early to feed by mouth'
        when feeds.is_by_order and not feeds.is_open then 'not to be fed by mouth'
    end as exclusion,
    feeds.excepted_reason as exception,
    if(feeds.is_open, null, feeds.not_done_reason) as not_done_reason,
    feeds.newborn_id is not null as is_documented,
    feeds.fed_minutes is not null as is_usable,
    feeds.fed_minutes as minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join feeds on feeds.newborn_id = newborn.newborn_id
