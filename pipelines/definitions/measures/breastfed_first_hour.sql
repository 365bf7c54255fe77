/*
title = "At the breast within the hour"
question = "Was the newborn at the breast within the first hour?"
also_called = ["breastfeeding", "early initiation"]
group = "contact and feeding"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit at 34 weeks or more and not kept from feeding by mouth. A newborn whose gestation is not recorded stays in."
numerator = "A first feed at the breast recorded as begun inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 60 }
window_status = "published"
parameters = { feed_from_weeks = 34 }
follows = { feed_from_weeks = "first_feed" }
owner = "born_here"
exceptions = "Mother and newborn apart for medical need; mother not well enough; newborn not stable; declined by the family."
missing = "not_met"
sources = [
    "UNICEF and WHO, Capture the Moment, 2018: breastfeeding within the first hour",
    "34 weeks as able to feed by mouth: common practice, no published source",
]
disagreement = "Any feed within the hour is another measure (first_feed); here only the breast counts, not expressed milk."
documentation_trap = "A first feed of which nobody wrote what it was is not documented here. An attempt and a feed that worked are often one entry. A family that chose another feed is set apart only where the refusal is on the record."
caution = "This screens records. How a newborn is fed is the family's choice; read it by language and payer, for a difference can be a want of help."
balancing = ["first_feed_formula", "skin_contact_sustained"]
look_at = ["first feed: what it was, time, status, reason"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "When the first feed comes depends on mother, newborn and family."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "minute 60 counts, 61 is late; the first feed at the breast counts, whatever came before; formula alone is not met"
given.admission = """
record_id
at60
at61
after
formula
milk
"""
given.care = """
record_id | kind       | minutes | status | feed
at60      | first_feed | 60      | done   | breast
at61      | first_feed | 61      | done   | breast
after     | first_feed | 20      | done   | formula
after     | first_feed | 50      | done   | breast
formula   | first_feed | 20      | done   | formula
milk      | first_feed | 20      | done   | own_milk
"""
expect = """
record_id | state   | minutes
at60      | met     | 60
at61      | late    | 61
after     | met     | 50
formula   | not_met |
milk      | not_met |
"""

[[examples]]
because = "what was fed and not said is not documented; a masked time or kind is unusable; a reason that is listed is an exception, unless met in time"
given.admission = """
record_id
no_row
not_said
no_time
bad_kind
apart
declined
no_reason
apart_fed
"""
given.care = """
record_id | kind       | minutes | status   | reason     | feed   | unusable
not_said  | first_feed | 30      | done     |            |        |
no_time   | first_feed |         | done     |            | breast | minutes
bad_kind  | first_feed | 30      | done     |            |        | feed
apart     | first_feed | 20      | not_done | separation |        |
declined  | first_feed | 20      | not_done | declined   | breast |
no_reason | first_feed | 20      | not_done |            |        |
apart_fed | first_feed | 20      | not_done | separation |        |
apart_fed | first_feed | 40      | done     |            | breast |
"""
expect = """
record_id | state          | reason
no_row    | not_documented |
not_said  | not_documented |
no_time   | unusable       |
bad_kind  | unusable       |
apart     | exception      | separation
declined  | exception      | declined
no_reason | not_done       | no reason recorded
apart_fed | met            |
"""

[[examples]]
because = "too early to feed by mouth, not to be fed by order"
given.admission = """
record_id | gestational_age_days
days237   | 237
days238   | 238
order     | 280
"""
given.care = """
record_id | kind       | minutes | status   | reason        | feed
days238   | first_feed | 40      | done     |               | breast
order     | first_feed | 20      | not_done | not_indicated |
"""
expect = """
record_id | state     | reason
days237   | exclusion | too early to feed by mouth
days238   | met       |
order     | exclusion | not to be fed by mouth
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition
still     | false      | birth_room  |                   |
died      | true       | birth_room  | 30                | died
moved     | true       | birth_room  | 30                | transfer
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
elsewhere | exclusion | born elsewhere
comfort   | exclusion | comfort care before the window closed
"""
*/
with at_the_breast as (
    select
        newborn_id as newborn_id,
        bool_or(status is distinct from 'not_done') as is_open,
        -- Said, even if it could not be believed; a refusal needs no kind of feed.
        bool_or(
            feed is not null
            or coalesce(list_contains(unusable, 'feed'), false)
            or status = 'not_done'
        ) as is_said,
        bool_or(feed is not null and minutes is not null and status = 'done') as is_known,
        min(minutes) filter (where feed = 'breast' and status = 'done') as breast_minutes,
        bool_or(status = 'not_done' and reason = 'not_indicated') as is_by_order,
        min(reason) filter (
            where status = 'not_done'
            and reason in ('separation', 'mother_unwell', 'newborn_unstable', 'declined')
        ) as excepted_reason,
        min(coalesce(reason, 'no reason recorded')) filter (
            where status = 'not_done'
        ) as not_done_reason,
    from mart.event
    where kind = 'first_feed'
    group by newborn_id
)

select
    setting.newborn_id as newborn_id,
    case
        when newborn.gestational_age_days < setting.feed_from_weeks * 7
            then 'too early to feed by mouth'
        when at_the_breast.is_by_order and not at_the_breast.is_open
            then 'not to be fed by mouth'
    end as exclusion,
    at_the_breast.excepted_reason as exception,
    if(at_the_breast.is_open, null, at_the_breast.not_done_reason) as not_done_reason,
    coalesce(at_the_breast.is_said, false) as is_documented,
    coalesce(at_the_breast.is_known, false) as is_usable,
    at_the_breast.breast_minutes as minutes,
from setting
inner join mart.newborn as newborn using (newborn_id)
left join at_the_breast using (newborn_id)
