/*
title       = "Temperature in another scale, or a slipped digit"
table       = "observation"
severity    = "error"
explanation = "The temperature is not possible, and would be if another scale had been used or a digit had slipped. Check it on the chart."
sources     = ["Celsius = (Fahrenheit - 32) / 1.8 exactly"]
# Values arrive in Celsius, converted from the unit its column declares: a Celsius reading in a
# Fahrenheit column has become (reading - 32) / 1.8, so 36.8 reads 2.67.
# Where twenty or more readings of a file show which scale its column is kept in (in Celsius they
# fall on tenths of a degree, converted from Fahrenheit mostly between), slips that only the other
# scale can make are left out.
# A slip of scale must repair to at_least..at_most; a lost or added decimal point may also
# repair to the wider limits of the contract, if nothing else fits.

[parameters]
at_least       = 30
at_most        = 43
scale_shown_by = 20

[[examples]]
because = "Fahrenheit in a Celsius column"
given.observation = """
record_id | kind        | value
a         | temperature | 97.7
low       | temperature | 86
"""
expect = """
record_id | column_name | severity | suggestion
a         | value       | error    | 36.5 °C if it was Fahrenheit
low       | value       | error    | 30.0 °C if it was Fahrenheit
"""

[[examples]]
because = "Celsius in a Fahrenheit column was converted once too often"
given.observation = """
record_id | kind        | value
a         | temperature | 2.67
"""
expect = """
record_id | column_name | suggestion
a         | value       | 36.8 °C if it was Celsius in a Fahrenheit column
"""

[[examples]]
because = "3.67 can be either slip: both are listed"
given.observation = """
record_id | kind        | value
a         | temperature | 3.67
"""
expect = """
record_id | column_name | suggestion
a         | value       | 38.6 °C if it was Celsius in a Fahrenheit column; 36.7 °C if the decimal point is one place too far left
"""

[[examples]]
because = "a lost decimal point, in Celsius or in Fahrenheit, in a Celsius or a Fahrenheit column"
given.observation = """
record_id  | kind        | value
celsius    | temperature | 368
cold       | temperature | 268
fahrenheit | temperature | 977
column     | temperature | 525
"""
expect = """
record_id  | column_name | suggestion
celsius    | value       | 36.8 °C if the decimal point is missing
cold       | value       | 26.8 °C if the decimal point is missing
fahrenheit | value       | 36.5 °C if it was Fahrenheit and the decimal point is missing
column     | value       | 36.5 °C if the decimal point is missing in a Fahrenheit column
"""

[[examples]]
because = "a decimal point too far left, in a Celsius and in a Fahrenheit column"
given.observation = """
record_id | kind        | value
celsius   | temperature | 3.65
column    | temperature | -12.35
"""
expect = """
record_id | column_name | suggestion
celsius   | value       | 38.6 °C if it was Celsius in a Fahrenheit column; 36.5 °C if the decimal point is one place too far left
column    | value       | 36.5 °C if the decimal point is one place too far left in a Fahrenheit column
"""

[[examples]]
because = "two readings on tenths of a degree would show a Celsius column to a unit that asks for two"
numbers = { scale_shown_by = 2 }
given.observation = """
record_id | kind        | value
a         | temperature | 36.8
b         | temperature | 37.1
slip      | temperature | 3.65
"""
expect = """
record_id | column_name | suggestion
slip      | value       | 36.5 °C if the decimal point is one place too far left
"""

[[examples]]
because = "the first two digits swapped"
given.observation = """
record_id | kind        | value
a         | temperature | 63.7
"""
expect = """
record_id | column_name | suggestion
a         | value       | 36.7 °C if the first two digits were swapped
"""

[[examples]]
because = "true temperatures, cooling among them, other signs and what no slip explains are left alone"
given.observation = """
record_id | kind             | value
usual     | temperature      | 36.8
cooled    | temperature      | 33.4
cold      | temperature      | 27
pulse     | heart_rate       | 98
no_slip   | temperature      | 120
blank     | temperature      |
"""
expect = """
record_id | column_name
"""
*/
with scale as (
    select
        reading.unit,
        reading.source_file,
        if(
            count(*) >= any_value(setting.scale_shown_by),
            avg(cast(abs(reading.value * 10 - round(reading.value * 10)) < 0.01 as integer)),
            null
        ) as share_of_tenths,
    from typed.observation as reading
    inner join rule_setting as setting using (unit)
    where
        reading.kind = 'temperature'
        and reading.value between setting.at_least and setting.at_most
    group by reading.unit, reading.source_file
),

impossible as (
    select
        reading.row_id,
        reading.value as recorded_c,
        -- Null, so unknown, where too few readings show it.
        scale.share_of_tenths > 0.8 as is_celsius,
        setting.at_least,
        setting.at_most,
        usual.error_below,
        usual.error_above,
    from typed.observation as reading
    inner join rule_setting as setting using (unit)
    inner join contract_limit as usual
        on usual.table_name = 'observation' and usual.kind = reading.kind
    left join scale
        on scale.unit = reading.unit and scale.source_file = reading.source_file
    where
        reading.kind = 'temperature'
        and (reading.value < usual.error_below or reading.value > usual.error_above)
),

slip as (
    select *
    from (
        values
            (1, true, 'it was Fahrenheit'),
            (2, false, 'it was Celsius in a Fahrenheit column'),
            (3, true, 'the decimal point is missing'),
            (4, true, 'the decimal point is one place too far left'),
            (5, true, 'it was Fahrenheit and the decimal point is missing'),
            (6, false, 'the decimal point is missing in a Fahrenheit column'),
            (7, true, 'the first two digits were swapped'),
            (8, false, 'the decimal point is one place too far left in a Fahrenheit column'),
    ) as listed (place, is_of_celsius, words)
),

repaired as (
    select
        impossible.*,
        slip.place,
        slip.words,
        case slip.place
            when 1 then (recorded_c - 32) / 1.8
            when 2 then recorded_c * 1.8 + 32
            when 3 then recorded_c / 10
            when 4 then recorded_c * 10
            when 5 then (recorded_c / 10 - 32) / 1.8
            when 6 then ((recorded_c * 1.8 + 32) / 10 - 32) / 1.8
            -- 63.7: tens 6, ones 3, rest 0.7 become 36.7
            when 7
            then if(
                recorded_c > 45 and recorded_c < 100,
                recorded_c + 9 * (floor(recorded_c) % 10 - floor(recorded_c / 10)),
                null
            )
            when 8 then ((recorded_c * 1.8 + 32) * 10 - 32) / 1.8
        end as value_c,
    from impossible
    inner join slip on coalesce(slip.is_of_celsius = impossible.is_celsius, true)
),

-- Half of the last of two decimals is lost in conversion; do not miss the edge for it.
fitting as (
    select
        *,
        value_c between at_least - 0.005 and at_most + 0.005 as fits_well,
        place in (3, 4) and value_c between error_below and error_above as fits_decimal,
    from repaired
),

chosen as (
    select *
    from fitting
    where fits_well or fits_decimal
    qualify fits_well or not bool_or(fits_well) over (partition by row_id)
)

select
    row_id,
    'value' as column_name,
    string_agg(
        format('{:.1f} °C if {}', value_c, words), '; ' order by place
    ) as suggestion,
from chosen
group by row_id
