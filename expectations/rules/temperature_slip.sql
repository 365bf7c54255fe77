/*
title       = "Temperature in another scale, or a slipped digit"
table       = "observation"
severity    = "error"
explanation = "The temperature is not possible, and would be if another scale had been used or a digit had slipped. Check it on the chart."
sources     = ["Celsius = (Fahrenheit - 32) / 1.8 exactly"]
# Values arrive in Celsius, converted from the unit its column declares: a Celsius reading in a
# Fahrenheit column has become (reading - 32) / 1.8, so 36.8 reads 2.67.
# A slip of scale must repair to at_least..at_most; a lost or added decimal point may also
# repair to the wider limits of the contract, if nothing else fits.

[parameters]
at_least = 30
at_most  = 43

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
with impossible as (
    select
        reading.row_id,
        reading.value as recorded_c,
        setting.at_least,
        setting.at_most,
        usual.error_below,
        usual.error_above,
    from typed.observation as reading
    inner join rule_setting as setting using (unit)
    inner join contract_limit as usual
        on usual.table_name = 'observation' and usual.kind = reading.kind
    where
        reading.kind = 'temperature'
        and (reading.value < usual.error_below or reading.value > usual.error_above)
),

repaired as (
    select
        impossible.*,
        unnest([
            {'place': 1, 'words': 'it was Fahrenheit', 'value_c': (recorded_c - 32) / 1.8},
            {
                'place': 2,
                'words': 'it was Celsius in a Fahrenheit column',
                'value_c': recorded_c * 1.8 + 32,
            },
            {'place': 3, 'words': 'the decimal point is missing', 'value_c': recorded_c / 10},
            {
                'place': 4,
                'words': 'the decimal point is one place too far left',
                'value_c': recorded_c * 10,
            },
            {
                'place': 5,
                'words': 'it was Fahrenheit and the decimal point is missing',
                'value_c': (recorded_c / 10 - 32) / 1.8,
            },
            {
                'place': 6,
                'words': 'the decimal point is missing in a Fahrenheit column',
                'value_c': ((recorded_c * 1.8 + 32) / 10 - 32) / 1.8,
            },
            {
                'place': 7,
                'words': 'the first two digits were swapped',
                'value_c': if(
                    recorded_c > 45 and recorded_c < 100,
                    -- 63.7: tens 6, ones 3, rest 0.7 become 36.7
                    recorded_c + 9 * (floor(recorded_c) % 10 - floor(recorded_c / 10)),
                    null
                ),
            },
        ], recursive := true),
    from impossible
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
