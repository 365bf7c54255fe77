/*
title       = "Warming of the cot is rarely recorded"
severity    = "note"
explanation = "Few newborns have an entry. Probably it is charted on paper only."
suggestion  = "Ask where it is charted."
tables      = ["admission"]
sources     = ["Local practice, no published source"]

[parameters]
below_share = 0.5

[[examples]]
because = "one of ten is rare, nine of ten is not"
given.completeness = """
table_name | column_name | month      | total | recorded | usable
admission  | cot_warmed  | 2025-03-01 | 10    | 1        | 1
"""
expect = """
table_name | column_name
admission  | cot_warmed
"""

[[examples]]
because = "nine of ten is not"
given.completeness = """
table_name | column_name | month      | total | recorded | usable
admission  | cot_warmed  | 2025-03-01 | 10    | 9        | 9
"""
expect = """
table_name | column_name
"""
*/
select
    completeness.unit,
    completeness.table_name,
    completeness.column_name,
    'Cot warmed: most newborns have no entry.' as explanation,
from judged.completeness as completeness
inner join rule_setting as setting using (unit)
where completeness.column_name = 'cot_warmed'
group by all
having sum(completeness.usable) < any_value(setting.below_share) * sum(completeness.total)
