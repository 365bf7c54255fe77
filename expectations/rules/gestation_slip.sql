/*
title       = "Gestation in days among weeks, or in weeks among days"
table       = "admission"
severity    = "error"
explanation = "The gestation is not possible, and would be if days had been entered for weeks or weeks for days. Check it in the chart."
sources     = ["140 to 315 days are 20 to 45 weeks: the contract's limits"]
# A number of days in a field of weeks was multiplied by seven on reading (1,960 for 280), or could
# not be read at all where the field wants weeks and days.

[parameters]
days_at_least  = 140
days_at_most   = 315
weeks_at_least = 20
weeks_at_most  = 46

[[examples]]
because = "280 days in a field of weeks, as read from whole weeks (280 x 7 + 3) or from decimal weeks"
given.admission = """
record_id | gestational_age_days
whole     | 1963
decimal   | 1960
last      | 2205
first     | 980
"""
expect = """
record_id | column_name          | severity | suggestion
whole     | gestational_age_days | error    | 280 days (40+0) if days were entered as weeks
decimal   | gestational_age_days | error    | 280 days (40+0) if days were entered as weeks
last      | gestational_age_days | error    | 315 days (45+0) if days were entered as weeks
first     | gestational_age_days | error    | 140 days (20+0) if days were entered as weeks
"""

[[examples]]
because = "days where the export should say weeks and days, such as 39+6"
given.admission = """
record_id | gestational_age_days | unreadable
a         |                      | gestational_age_days
b         |                      | gestational_age_days
"""
text.admission = """
record_id | gestational_age_days
a         | 279
b         | 900
"""
expect = """
record_id | column_name          | suggestion
a         | gestational_age_days | 279 days (39+6) if days were entered as weeks
"""

[[examples]]
because = "39 in a field of days"
given.admission = """
record_id | gestational_age_days
a         | 39
"""
expect = """
record_id | column_name          | suggestion
a         | gestational_age_days | 39 weeks if weeks were entered as days
"""

[[examples]]
because = "gestations within the limits, and what neither slip explains, are left alone"
given.admission = """
record_id | gestational_age_days
early     | 155
late      | 315
neither   | 900
between   | 60
blank     |
"""
expect = """
record_id | column_name
"""
*/
with recorded as (
    select
        newborn.row_id,
        setting.* exclude (unit),
        case
            when newborn.gestational_age_days > usual.error_above
            then newborn.gestational_age_days // 7
            when newborn.gestational_age_days is null and not text.is_one_decimal
            then try_cast(text.recorded as integer)
        end as days,
        if(newborn.gestational_age_days < usual.error_below, newborn.gestational_age_days, null)
            as weeks,
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    inner join contract_limit as usual
        on usual.table_name = 'admission' and usual.column_name = 'gestational_age_days'
    left join gestation_text as text using (row_id)
)

select
    row_id,
    'gestational_age_days' as column_name,
    if(
        weeks is not null,
        weeks || ' weeks if weeks were entered as days',
        days || ' days (' || days // 7 || '+' || days % 7 || ') if days were entered as weeks'
    ) as suggestion,
from recorded
where
    days between days_at_least and days_at_most
    or weeks between weeks_at_least and weeks_at_most
