/*
title        = "Favourite minutes among times"
table        = "observation"
severity     = "note"
whole_column = true
explanation  = "More times of this month fall on the full, quarter or half hour than chance allows: rounded, or written from memory. Delays of a few minutes cannot be read from them."
sources      = [
    "a fifth of the times within two minutes of :00, :15 and :30 fall on them: arithmetic, a tenth more allowed",
    "one-sided, chance below 1 in 10,000 by the Chernoff bound, which overstates the chance and never understates it",
]
# Per unit and month of birth, over the times of temperatures (the signs of one set share a time).
# Minutes of the clock where the export gives clock times, else minutes after birth from one hour on.

[parameters]
chance_below = 0.0001
allowance    = 1.1

[[examples]]
because = "minutes after birth on full and quarter hours"
numbers = { chance_below = 0.01 }
given.admission = """
record_id | birth_month
a         | 2025-03-01
"""
given.observation = """
record_id | kind        | minutes
a         | temperature | 60
a         | temperature | 90
a         | temperature | 120
a         | temperature | 135
a         | temperature | 150
"""
expect = """
record_id | column_name | severity | explanation
          | minutes     | note     | March 2025: of 5 times of temperatures near the full, quarter or half hour 100 % fall on it, about 22 % would be expected. Rounded or written from memory; delays of a few minutes cannot be read from them.
"""

[[examples]]
because = "times on every minute, the first hour, and times before birth are left alone"
numbers = { chance_below = 0.01 }
given.admission = """
record_id | birth_month
a         | 2025-03-01
"""
given.observation = """
record_id | kind        | minutes
a         | temperature | 61
a         | temperature | 73
a         | temperature | 89
a         | temperature | 120
a         | temperature | 30
a         | temperature | 15
a         | temperature | 0
a         | temperature | 45
a         | temperature | -30
"""
expect = """
record_id | column_name
"""
*/
with placed as (
    select
        reading.unit,
        newborn.birth_month,
        cast(floor(coalesce(clock.minute_of_hour, 0) + reading.minutes) as bigint) % 60
            as minute_of_hour,
        setting.chance_below,
        setting.allowance,
    from typed.observation as reading
    inner join typed.admission as newborn using (newborn_id)
    inner join rule_setting as setting on setting.unit = reading.unit
    left join birth_clock as clock using (newborn_id)
    where
        reading.kind = 'temperature'
        and newborn.birth_month is not null
        and reading.minutes >= if(clock.minute_of_hour is null, 60, 0)
),

counted as (
    select
        unit,
        birth_month,
        count(*) as n,
        count(*) filter (where minute_of_hour in (0, 15, 30)) as hits,
        any_value(allowance) / 5 as expected,
        any_value(chance_below) as chance_below,
    from placed
    -- Within two minutes of the favourites.
    where (minute_of_hour + 2) % 60 < 5 or abs(minute_of_hour - 15) <= 2
        or abs(minute_of_hour - 30) <= 2
    group by unit, birth_month
),

-- Chernoff: chance of hits or more <= exp(-n * divergence).
tested as (
    select
        *,
        hits / n as found,
        exp(
            -n * (
                found * ln(found / expected)
                + if(found < 1, (1 - found) * ln((1 - found) / (1 - expected)), 0)
            )
        ) as chance,
    from counted
    where hits > n * expected
)

select
    unit,
    'minutes' as column_name,
    format(
        '{}: of {} times of temperatures near the full, quarter or half hour {:.0f} % fall on it, '
            || 'about {:.0f} % would be expected. Rounded or written from memory; delays of a few '
            || 'minutes cannot be read from them.',
        strftime(birth_month, '%B %Y'), n, 100 * found, 100 * expected
    ) as explanation,
from tested
where chance < chance_below
