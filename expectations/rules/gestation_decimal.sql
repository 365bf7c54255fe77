/*
title        = "28.6 weeks that mean 28 weeks and 6 days"
table        = "admission"
severity     = "query"
whole_column = true
explanation  = "No gestation of this file has a decimal above 6. Written so, 28.6 probably means 28 weeks and 6 days."
sources      = ["if decimals were tenths of a week, all of n would be 0 to 6 with a chance of 0.7 to the power n"]

[parameters]
chance_below = 0.0001

[[examples]]
because = "five gestations are too few to say (0.7^5 is 0.17), but enough for a unit that asks for 0.2"
numbers = { chance_below = 0.2 }
given.admission = """
record_id | gestational_age_days
a         | 200
b         | 275
c         | 281
d         | 270
e         | 262
"""
text.admission = """
record_id | gestational_age_days
a         | 28.6
b         | 39.2
c         | 40.1
d         | 38.5
e         | 37.4
"""
expect = """
record_id | column_name          | severity | suggestion
          | gestational_age_days | query    | Ask how the unit writes the days beyond whole weeks; have them exported as 28+6.
"""

[[examples]]
because = "one decimal of 8 says that they are tenths of a week; whole weeks say nothing"
numbers = { chance_below = 0.5 }
given.admission = """
record_id | gestational_age_days
a         | 200
b         | 279
c         | 280
"""
text.admission = """
record_id | gestational_age_days
a         | 28.6
b         | 39.8
c         | 40
"""
expect = """
record_id | column_name
"""
*/
with decimals as (
    select
        newborn.unit,
        newborn.source_file,
        cast(text.recorded[-1] as integer) as decimal,
        setting.chance_below,
    from gestation_text as text
    inner join typed.admission as newborn using (row_id)
    inner join rule_setting as setting using (unit)
    where text.is_one_decimal
)

select
    unit,
    source_file,
    'gestational_age_days' as column_name,
    'Ask how the unit writes the days beyond whole weeks; have them exported as 28+6.'
        as suggestion,
from decimals
group by unit, source_file
-- Whole weeks written as 39.0 fit both readings and are no evidence.
having
    max(decimal) <= 6
    and pow(0.7, count(*) filter (where decimal > 0)) < any_value(chance_below)
