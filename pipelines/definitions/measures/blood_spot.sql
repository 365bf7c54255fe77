/*
title = "Blood spot at 24 to 48 hours"
question = "Was the blood spot for the metabolic screen taken at the right age?"
also_called = ["metabolic screen", "heel test", "PKU"]
group = "screening"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 24 hours of age who were still there 24 hours after birth."
numerator = "A blood spot recorded as taken inside the window."
anchor = "birth"
window = { at_least = 1440, at_most = 2880 }
window_status = "published in part"
owner = "born_here_or_arrived"
arrived_before = 1440
exceptions = "Declined by the family."
missing = "not_met"
sources = [
    "Newborn screening timeliness goals of the US advisory committee on heritable disorders, 2015 (from memory): taken by 48 hours after birth",
    "24 hours as the earliest: common laboratory standard, from memory",
    "Brought in before 24 hours: local decision, no published value",
]
disagreement = "Programmes differ: some take it at 48 to 72 hours, or on day 5: set at_least and at_most. Who went home before 24 hours is asked for by the measure of the repeat."
documentation_trap = "The card carries its own time; what is charted is often the time of sending. A first one taken before 24 hours does not count here, even where it was right."
caution = "This screens records. The result is the laboratory's; a spot taken before a transfusion or in intensive care follows another schedule."
balancing = ["blood_spot_repeated", "heel_pricks"]
look_at = ["blood spot: time, status, reason"]
version = "1.0"

[gravity]
level = "serious"
why = "Some of these diseases kill or harm within the first weeks, and can be treated."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "minute 1440 and 2880 count, 1439 and 2881 do not; of several the first from 24 hours on decides"
given.admission = """
record_id
at1440
at2880
at1439
at2881
twice
"""
given.care = """
record_id | kind       | minutes | status
at1440    | blood_spot | 1440    | done
at2880    | blood_spot | 2880    | done
at1439    | blood_spot | 1439    | done
at2881    | blood_spot | 2881    | done
twice     | blood_spot | 700     | done
twice     | blood_spot | 1500    | done
twice     | blood_spot | 9000    | done
"""
expect = """
record_id | state   | minutes
at1440    | met     | 1440
at2880    | met     | 2880
at1439    | not_met | 1439
at2881    | late    | 2881
twice     | met     | 1500
"""

[[examples]]
because = "no row, no time, declined, another reason"
given.admission = """
record_id
no_row
no_time
declined
no_reason
yet_done
"""
given.care = """
record_id | kind       | minutes | status   | reason   | unusable
no_time   | blood_spot |         | done     |          | minutes
declined  | blood_spot | 1500    | not_done | declined |
no_reason | blood_spot | 1500    | not_done |          |
yet_done  | blood_spot | 1400    | not_done | declined |
yet_done  | blood_spot | 1600    | done     |          |
"""
expect = """
record_id | state          | reason
no_row    | not_documented |
no_time   | unusable       |
declined  | exception      | declined
no_reason | not_done       | no reason recorded
yet_done  | met            |
"""

[[examples]]
because = "home before 24 hours is set apart, and the standard exclusions"
given.admission = """
record_id | live_birth | birth_place | discharge_minutes | disposition
still     | false      | birth_room  |                   |
died      | true       | birth_room  | 600               | died
moved     | true       | birth_room  | 600               | transfer
elsewhere | true       | other_site  |                   |
comfort   | true       | birth_room  |                   |
home1439  | true       | birth_room  | 1439              | home
home1440  | true       | birth_room  | 1440              | home
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id | state          | reason
still     | exclusion      | stillborn
died      | exclusion      | died before the window closed
moved     | exception      | moved before the window closed
elsewhere | exclusion      | arrival not known
comfort   | exclusion      | comfort care before the window closed
home1439  | exclusion      | stayed less than 24 hours
home1440  | not_documented |
"""
*/
with spot as (
    select
        event.newborn_id as newborn_id,
        bool_or(event.status is distinct from 'not_done') as is_open,
        max(event.reason) filter (
            where event.status = 'not_done' and event.reason = 'declined'
        ) as declined,
        min(coalesce(event.reason, 'no reason recorded')) filter (
            where event.status = 'not_done'
        ) as not_done_reason,
        -- The first one from the earliest minute on, else the last one before it.
        coalesce(
            min(event.minutes) filter (
                where event.status = 'done' and event.minutes >= setting.at_least
            ),
            max(event.minutes) filter (where event.status = 'done')
        ) as minutes,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where event.kind = 'blood_spot'
    group by event.newborn_id
)

select
    setting.newborn_id as newborn_id,
    if(went_home.home_minutes < setting.at_least, 'stayed less than 24 hours', null) as exclusion,
    spot.declined as exception,
    if(spot.is_open, null, spot.not_done_reason) as not_done_reason,
    spot.newborn_id is not null as is_documented,
    spot.minutes is not null as is_usable,
    spot.minutes as minutes,
from setting
left join spot using (newborn_id)
left join went_home using (newborn_id)
