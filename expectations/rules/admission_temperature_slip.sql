/*
title       = "Temperature of mother or room in another scale"
table       = "admission"
severity    = "error"
explanation = "The temperature is not possible in Celsius, and would be if another scale had been used or the decimal point had slipped. Check it on the chart."
sources     = ["Celsius = (Fahrenheit - 32) / 1.8 exactly"]
# Values arrive in Celsius, converted from the unit its column declares. A repaired value must
# lie within the query limits of the contract.

[[examples]]
because = "Fahrenheit in a Celsius column"
given.admission = """
record_id | maternal_temperature_c | room_temperature_c
a         | 98.6                   | 74
"""
expect = """
record_id | column_name            | severity | suggestion
a         | maternal_temperature_c | error    | 37.0 °C if it was Fahrenheit
a         | room_temperature_c     | error    | 23.3 °C if it was Fahrenheit
"""

[[examples]]
because = "Celsius in a Fahrenheit column, and a lost decimal point"
given.admission = """
record_id | maternal_temperature_c | room_temperature_c
column    | 2.78                   | -4.44
point     | 370                    | 235
"""
expect = """
record_id | column_name            | suggestion
column    | maternal_temperature_c | 37.0 °C if it was Celsius in a Fahrenheit column
column    | room_temperature_c     | 24.0 °C if it was Celsius in a Fahrenheit column
point     | maternal_temperature_c | 37.0 °C if the decimal point is missing
point     | room_temperature_c     | 23.5 °C if the decimal point is missing
"""

[[examples]]
because = "usual temperatures, blanks and what no slip explains are left alone"
given.admission = """
record_id | maternal_temperature_c | room_temperature_c
usual     | 36.9                   | 24
blank     |                        |
no_slip   | 60                     | 55
"""
expect = """
record_id | column_name
"""
*/
with taken as (
    select
        row_id,
        'maternal_temperature_c' as column_name,
        maternal_temperature_c as recorded_c,
    from typed.admission
    union all
    select
        row_id,
        'room_temperature_c' as column_name,
        room_temperature_c as recorded_c,
    from typed.admission
),

impossible as (
    select
        taken.*,
        usual.query_below,
        usual.query_above,
    from taken
    inner join contract_limit as usual
        on usual.table_name = 'admission' and usual.column_name = taken.column_name
    where taken.recorded_c < usual.error_below or taken.recorded_c > usual.error_above
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
        ], recursive := true),
    from impossible
)

select
    row_id,
    column_name,
    string_agg(format('{:.1f} °C if {}', value_c, words), '; ' order by place) as suggestion,
from repaired
where value_c between query_below and query_above
group by row_id, column_name
