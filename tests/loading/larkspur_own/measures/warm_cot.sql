/*
title = "Cot warmed beforehand"
question = "Was the cot warm when the newborn was laid into it?"
group = "warmth"
kind = "proportion"
direction = "higher"
population = "Live-born newborns born in the unit"
numerator = "Cot warmed beforehand"
anchor = "birth"
owner = "born_here"
exceptions = "None"
missing = "not_met"
sources = ["Local decision, no published value"]
look_at = ["cot: who warmed it, and when"]
version = "1.0"

[[history]]
version = "1.0"
on = 2026-01-01
what = "First version"

[[examples]]
because = "warmed is met, not warmed is not, and a blank is not documented"
given.admission = """
record_id | cot_warmed
A         | true
B         | false
C         |
"""
expect = """
record_id | state
A         | met
B         | not_met
C         | not_documented
"""
*/
select
    newborn_id,
    cot_warmed is not null as is_documented,
    true as is_usable,
    cot_warmed as is_met,
from mart.newborn
