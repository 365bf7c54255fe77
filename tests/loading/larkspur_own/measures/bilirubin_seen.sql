/*
title = "Bilirubin read within 48 hours"
question = "Was bilirubin read through the skin before the third day?"
group = "screening"
kind = "proportion"
direction = "higher"
population = "Live-born newborns born in the unit"
numerator = "First reading on the brow within 48 hours"
anchor = "birth"
window = { at_least = 0, at_most = 2880 }
window_status = "local"
owner = "born_here"
exceptions = "None"
missing = "not_met"
sources = ["Local decision, no published value"]
version = "1.0"

[[history]]
version = "1.0"
on = 2026-01-01
what = "First version"

[[examples]]
because = "a reading on the brow counts to minute 2880; one on the breastbone does not"
given.admission = """
record_id
A
B
C
"""
given.observation = """
record_id | kind           | minutes | value | meter_place
A         | skin_bilirubin | 2880    | 7.5   | brow
B         | skin_bilirubin | 2881    | 7.5   | brow
C         | skin_bilirubin | 100     | 7.5   | breastbone
"""
expect = """
record_id | state
A         | met
B         | late
C         | not_documented
"""
*/
with reading as (
    select
        newborn_id,
        min(minutes) filter (where is_usable) as minutes,
    from mart.event
    where kind = 'skin_bilirubin' and meter_place = 'brow'
    group by newborn_id
)

select
    newborn.newborn_id,
    reading.newborn_id is not null as is_documented,
    reading.minutes is not null as is_usable,
    reading.minutes,
from mart.newborn as newborn
left join reading using (newborn_id)
