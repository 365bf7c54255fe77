/*
title       = "A warmed cot after a birth in theatre"
table       = "admission"
severity    = "query"
explanation = "This unit warms no cot in theatre, so one of the two entries probably belongs to another newborn."
sources     = ["Local practice, no published source"]

[[examples]]
because = "warmed in theatre is asked about; elsewhere, or not warmed, is left alone"
given.admission = """
record_id | cot_warmed | birth_place
A         | true       | operating_room
B         | true       | birth_room
C         | false      | operating_room
"""
expect = """
record_id | column_name
A         | cot_warmed
"""
*/
select
    row_id,
    'cot_warmed' as column_name,
from typed.admission
where cot_warmed and birth_place = 'operating_room'
