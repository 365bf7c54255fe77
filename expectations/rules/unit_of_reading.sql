/*
title       = "A reading in another unit"
table       = "observation"
severity    = "query"
explanation = "A glucose this low in milligrams is hardly ever seen; the number is a usual one in mmol/L. It may have been read from a meter set to that unit: check it."
sources     = ["glucose: 1 mmol/L is 18.0156 mg/dL (molar mass 180.156 g/mol)", "oxygen saturation is written in percent; a fraction of 1 is how some monitors and exports write it: common practice, no published source"]
# error where it cannot be: a saturation of 1 % or less. Query where a number may be true.

[parameters]
glucose_below = 10

[[examples]]
because = "saturation as a fraction"
given.observation = """
record_id | kind              | value
fraction  | oxygen_saturation | 0.98
whole     | oxygen_saturation | 1
"""
expect = """
record_id | column_name | severity | suggestion                      | explanation
fraction  | value       | error    | 98 % if it was a fraction of 1  | A saturation of 1 % or less is not possible; it was probably written as a fraction of 1.
whole     | value       | error    | 100 % if it was a fraction of 1 | A saturation of 1 % or less is not possible; it was probably written as a fraction of 1.
"""

[[examples]]
because = "glucose in mmol/L"
given.observation = """
record_id | kind    | value
low       | glucose | 2.1
usual     | glucose | 3.4
"""
expect = """
record_id | column_name | severity | suggestion
low       | value       | query    | 38 mg/dL if it was mmol/L
usual     | value       | query    | 61 mg/dL if it was mmol/L
"""

[[examples]]
because = "usual readings, nought, and small numbers of other signs are left alone"
given.observation = """
record_id | kind              | value
usual     | oxygen_saturation | 98
low       | oxygen_saturation | 61
nought    | oxygen_saturation | 0
glucose   | glucose           | 54
very_low  | glucose           | 11
none      | glucose           | 0
blank     | glucose           |
rate      | respiratory_rate  | 4
"""
expect = """
record_id | column_name
"""
*/
select
    reading.row_id,
    'value' as column_name,
    if(reading.kind = 'oxygen_saturation', 'error', 'query') as severity,
    if(
        reading.kind = 'oxygen_saturation',
        'A saturation of 1 % or less is not possible; it was probably written as a fraction of 1.',
        null
    ) as explanation,
    if(
        reading.kind = 'oxygen_saturation',
        format('{:.0f} % if it was a fraction of 1', reading.value * 100),
        format('{:.0f} mg/dL if it was mmol/L', reading.value * glucose.mg_dl)
    ) as suggestion,
from typed.observation as reading
inner join rule_setting as setting using (unit)
inner join molar_factor as glucose on glucose.substance = 'glucose' and glucose.unit = 'mmol/L'
where
    reading.kind = 'oxygen_saturation' and reading.value > 0 and reading.value <= 1
    or reading.kind = 'glucose' and reading.value >= 0.5 and reading.value < setting.glucose_below
