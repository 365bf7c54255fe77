/*
title = "First feed was formula"
question = "In how many was the first feed formula?"
also_called = ["bottle feeding"]
group = "contact and feeding"
kind = "descriptive"
direction = "neither"
population = "Newborns born alive whose first feed is on the record, wherever they were born."
numerator = "Of the feeds of the first minute at which any is recorded, one was formula."
anchor = "the first feed"
owner = "recorded"
exceptions = "None."
missing = "left_out"
sources = [
    "No target: the choice is the family's; local decision to show it beside the breast within the hour",
]
disagreement = "Expressed milk and donor milk count with the breast here, as not formula; the export tells them apart."
documentation_trap = "A first feed of which nobody wrote what it was stays out of the share and shows in its bounds."
caution = "This screens records and wants no share in particular. A rise beside a better time of the first feed can mean that formula beats the clock."
balancing = ["first_feed", "breastfed_first_hour"]
look_at = ["first feed: what it was, time"]
version = "1.0"

[gravity]
level = "descriptive"
why = "It describes families' choices and the help they had."

[[history]]
version = "1.0"
on = 2026-11-30
what = "first version"

[[examples]]
because = "the first one decides; of two in one minute formula counts; the rest is no formula"
given.admission = """
record_id
formula
breast
later
together
donor
"""
given.care = """
record_id | kind       | minutes | status | feed
formula   | first_feed | 60      | done   | formula
breast    | first_feed | 60      | done   | breast
later     | first_feed | 60      | done   | own_milk
later     | first_feed | 90      | done   | formula
together  | first_feed | 60      | done   | breast
together  | first_feed | 60      | done   | formula
donor     | first_feed | 400     | done   | donor_milk
"""
expect = """
record_id | state   | minutes
formula   | met     | 60
breast    | not_met | 60
later     | not_met | 60
together  | met     | 60
donor     | not_met | 400
"""

[[examples]]
because = "not said is not documented, masked is unusable; a stillborn is set apart"
given.admission = """
record_id | live_birth
no_row    | true
not_said  | true
no_time   | true
bad_kind  | true
refused   | true
still     | false
"""
given.care = """
record_id | kind       | minutes | status   | feed    | unusable
not_said  | first_feed | 60      | done     |         |
no_time   | first_feed |         | done     | formula | minutes
bad_kind  | first_feed | 60      | done     |         | feed
refused   | first_feed | 60      | not_done | breast  |
"""
expect = """
record_id | state
no_row    | not_documented
not_said  | not_documented
no_time   | unusable
bad_kind  | unusable
refused   | not_documented
still     | exclusion
"""
*/
with fed as (
    select
        newborn_id as newborn_id,
        min(minutes) filter (where feed is not null) as minutes,
        arg_min(feed = 'formula', (minutes, feed <> 'formula')) filter (
            where feed is not null and minutes is not null
        ) as is_formula,
    from mart.event
    where
        kind = 'first_feed'
        and status is distinct from 'not_done'
        and (feed is not null or coalesce(list_contains(unusable, 'feed'), false))
    group by newborn_id
)

select
    newborn.newborn_id as newborn_id,
    fed.newborn_id is not null as is_documented,
    fed.minutes is not null as is_usable,
    fed.minutes as minutes,
    fed.minutes as closes_minutes,
    fed.is_formula as is_met,
from mart.newborn as newborn
left join fed using (newborn_id)
