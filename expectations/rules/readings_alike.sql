/*
title        = "One value all day, or a whole day charted at once"
table        = "observation"
severity     = "query"
explanation  = "All readings of this sign have the same value, over hours. They were probably copied and not taken each time: check them."
sources      = ["how many readings over how long: our own limits, common practice, no published source; two counts of a rate are the same about once in twenty (from memory), so five in a row are hardly chance, and temperatures repeat far more often"]
gives_way_to = ["copied_forward"]
# query on a value; note on when it was charted.

[parameters]
rates_at_least            = 5
rates_over_minutes        = 120
temperatures_at_least     = 8
temperatures_over_minutes = 480
charted_at_least          = 8
charted_over_minutes      = 120

[[examples]]
because = "five heart rates of 140 over two hours"
given.observation = """
record_id | kind       | value | minutes
same      | heart_rate | 140   | 30
same      | heart_rate | 140   | 60
same      | heart_rate | 140   | 90
same      | heart_rate | 140   | 120
same      | heart_rate | 140   | 150
"""
expect = """
record_id | column_name | severity
same      | value       | query
"""

[[examples]]
because = "temperatures of 37.0 all day, for a unit that asks for three"
numbers = { temperatures_at_least = 3 }
given.observation = """
record_id | kind        | value | minutes
same      | temperature | 37.0  | 30
same      | temperature | 37.0  | 300
same      | temperature | 37.0  | 600
"""
expect = """
record_id | column_name | severity
same      | value       | query
"""

[[examples]]
because = "readings of three hours charted in one minute, for a unit that asks for three"
numbers = { charted_at_least = 3 }
given.observation = """
record_id | kind        | value | minutes | charted_minutes
at_once   | temperature | 36.9  | 30      | 260
at_once   | heart_rate  | 140   | 30      | 260
at_once   | temperature | 36.7  | 210     | 260
"""
expect = """
record_id | column_name     | severity | explanation
at_once   | charted_minutes | note     | All readings of this newborn were charted in one minute, over hours after they were taken: from paper or from memory.
"""

[[examples]]
because = "one that differs, few, a short time, and steady saturations are left alone"
given.observation = """
record_id | kind              | value | minutes
differs   | heart_rate        | 140   | 30
differs   | heart_rate        | 140   | 60
differs   | heart_rate        | 140   | 90
differs   | heart_rate        | 140   | 120
differs   | heart_rate        | 142   | 150
short     | heart_rate        | 140   | 30
short     | heart_rate        | 140   | 31
short     | heart_rate        | 140   | 32
short     | heart_rate        | 140   | 33
short     | heart_rate        | 140   | 34
steady    | oxygen_saturation | 98    | 30
steady    | oxygen_saturation | 98    | 60
steady    | oxygen_saturation | 98    | 90
steady    | oxygen_saturation | 98    | 120
steady    | oxygen_saturation | 98    | 150
"""
expect = """
record_id | column_name
"""
*/
with alike as (
    select
        reading.newborn_id,
        reading.kind,
    from typed.observation as reading
    inner join rule_setting as setting using (unit)
    where reading.kind in ('temperature', 'heart_rate', 'respiratory_rate')
    group by reading.newborn_id, reading.kind
    having
        min(reading.value) = max(reading.value)
        and count(reading.value) >= any_value(
            if(kind = 'temperature', temperatures_at_least, rates_at_least)
        )
        and max(reading.minutes) - min(reading.minutes) >= any_value(
            if(kind = 'temperature', temperatures_over_minutes, rates_over_minutes)
        )
),

at_once as (
    select reading.newborn_id
    from typed.observation as reading
    inner join rule_setting as setting using (unit)
    where reading.charted_minutes is not null
    group by reading.newborn_id
    having
        min(reading.charted_minutes) = max(reading.charted_minutes)
        and count(*) >= any_value(setting.charted_at_least)
        and max(reading.minutes) - min(reading.minutes)
        >= any_value(setting.charted_over_minutes)
)

select
    reading.row_id,
    'value' as column_name,
    'query' as severity,
    null as explanation,
from typed.observation as reading
inner join alike using (newborn_id, kind)
where reading.value is not null
union all
select
    reading.row_id,
    'charted_minutes' as column_name,
    'note' as severity,
    'All readings of this newborn were charted in one minute, over hours after they were taken: '
        || 'from paper or from memory.' as explanation,
from typed.observation as reading
inner join at_once using (newborn_id)
where reading.charted_minutes is not null
