/*
title        = "Favourite numbers among temperatures and counts"
table        = "observation"
severity     = "note"
whole_column = true
explanation  = "More readings of this month fall on favourite numbers than chance allows: rounded, counted for part of a minute, or not read anew. No single value is wrong for it."
sources      = [
    "of counts taken for a full minute half are even, a quarter multiples of four, a tenth multiples of ten: arithmetic",
    "the share of 36.5 among its nearest readings in the precision that the unit records: our own reckoning, a tenth more allowed for the shape of the curve",
    "one-sided, chance below 1 in 10,000 by the Chernoff bound, which overstates the chance and never understates it",
]
# Per unit and month of birth. Counts said to be taken for part of a minute or read from a device
# are left out: multiples are no habit there.

[parameters]
chance_below     = 0.0001
allowance        = 1.1
near_36_5_within = 0.115

[[examples]]
because = "fourteen of eighteen temperatures near 36.5 are exactly that"
numbers = { chance_below = 0.01 }
given.admission = """
record_id | birth_month
a         | 2025-03-01
"""
given.observation = """
record_id | kind        | value
a         | temperature | 36.4
a         | temperature | 36.6
a         | temperature | 36.4
a         | temperature | 36.6
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
a         | temperature | 36.5
"""
expect = """
record_id | column_name | severity | explanation
          | value       | note     | March 2025: of 18 temperatures near 36.5 °C 78 % are exactly 36.5, about 37 % would be expected. A habit of rounding or of writing a usual number; no single value is wrong for it.
"""

[[examples]]
because = "heart rates that end in nought, respirations that are multiples of four"
numbers = { chance_below = 0.01 }
given.admission = """
record_id | birth_month
a         | 2025-03-01
"""
given.observation = """
record_id | kind             | value | method
a         | heart_rate       | 140   |
a         | heart_rate       | 150   |
a         | heart_rate       | 130   | full_minute
a         | heart_rate       | 140   | full_minute
a         | respiratory_rate | 40    |
a         | respiratory_rate | 44    |
a         | respiratory_rate | 48    |
a         | respiratory_rate | 52    |
"""
expect = """
record_id | column_name | explanation
          | value       | March 2025: of 4 heart rates 100 % are multiples of 10, about 10 % would be expected. A habit of rounding or of writing a usual number; no single value is wrong for it.
          | value       | March 2025: of 4 respiratory rates 100 % are multiples of 4, about 25 % would be expected. A habit of rounding or of writing a usual number; no single value is wrong for it.
"""

[[examples]]
because = "counts for part of a minute, from a device, and numbers of every kind are left alone"
given.admission = """
record_id | birth_month
a         | 2025-03-01
"""
given.observation = """
record_id | kind             | value | method
a         | respiratory_rate | 40    | part_minute
a         | respiratory_rate | 44    | part_minute
a         | respiratory_rate | 48    | part_minute
a         | heart_rate       | 140   | device
a         | heart_rate       | 141   |
a         | heart_rate       | 137   |
a         | temperature      | 36.5  |
a         | temperature      | 36.8  |
"""
expect = """
record_id | column_name
"""
*/
with reading as (
    select
        observed.unit,
        newborn.birth_month,
        observed.kind,
        observed.value,
        setting.allowance,
        setting.chance_below,
        setting.near_36_5_within,
    from typed.observation as observed
    inner join typed.admission as newborn using (newborn_id)
    inner join rule_setting as setting on setting.unit = observed.unit
    where
        observed.kind in ('temperature', 'heart_rate', 'respiratory_rate')
        and observed.value is not null
        and newborn.birth_month is not null
        and (
            observed.kind = 'temperature'
            or coalesce(observed.method, 'full_minute') = 'full_minute'
        )
),

-- How many readings the unit's precision allows near 36.5; odd ones are no part of it.
near_value as (
    select
        unit,
        value,
        count(*) / sum(count(*)) over (partition by unit) as share,
    from reading
    where kind = 'temperature' and abs(value - 36.5) < near_36_5_within
    group by unit, value
),

precision as (
    select
        unit,
        count(*) as steps,
    from near_value
    where share > 0.02
    group by unit
),

counted as (
    select
        unit,
        birth_month,
        count(*) filter (where kind = 'temperature' and abs(value - 36.5) < near_36_5_within)
            as near_36_5,
        count(*) filter (where kind = 'temperature' and abs(value - 36.5) < 0.001)
            as exactly_36_5,
        count(*) filter (where kind = 'respiratory_rate') as breaths,
        count(*) filter (where kind = 'respiratory_rate' and value % 2 = 0) as even_breaths,
        count(*) filter (where kind = 'respiratory_rate' and value % 4 = 0) as fourth_breaths,
        count(*) filter (where kind = 'heart_rate') as beats,
        count(*) filter (where kind = 'heart_rate' and value % 10 = 0) as tenth_beats,
        any_value(chance_below) as chance_below,
        any_value(allowance) as allowance,
    from reading
    group by unit, birth_month
),

share as (
    select
        counted.unit,
        counted.birth_month,
        counted.chance_below,
        unnest([
            {
                'place': 1,
                'of': 'temperatures near 36.5 °C',
                'are': 'exactly 36.5',
                'hits': exactly_36_5,
                'n': near_36_5,
                'expected': allowance / precision.steps,
            },
            {
                'place': 2,
                'of': 'respiratory rates',
                'are': 'multiples of 4',
                'hits': fourth_breaths,
                'n': breaths,
                'expected': 0.25,
            },
            {
                'place': 3,
                'of': 'respiratory rates',
                'are': 'even',
                'hits': even_breaths,
                'n': breaths,
                'expected': 0.5,
            },
            {
                'place': 4,
                'of': 'heart rates',
                'are': 'multiples of 10',
                'hits': tenth_beats,
                'n': beats,
                'expected': 0.1,
            },
        ], recursive := true),
    from counted
    left join precision using (unit)
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
    from share
    where n > 0 and expected < 1 and hits > n * expected
)

select
    unit,
    'value' as column_name,
    format(
        '{}: of {} {} {:.0f} % are {}, about {:.0f} % would be expected. A habit of rounding or of '
            || 'writing a usual number; no single value is wrong for it.',
        strftime(birth_month, '%B %Y'), n, of, 100 * found, are, 100 * expected
    ) as explanation,
from tested
where chance < chance_below
-- Multiples of four are even: one note is enough.
qualify row_number() over (partition by unit, birth_month, of order by place) = 1
