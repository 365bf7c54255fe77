/*
title       = "Left the unit before much of the record"
table       = "admission"
severity    = "query"
explanation = "Several entries are later than the time the newborn left the unit. The time of leaving is probably wrong; check it."
gives_way_to = ["outcome_against_record"]
# One or two entries after leaving are flagged on their own time (after_leaving).

[[examples]]
because = "three readings after leaving: the time of leaving is doubtful"
given.admission = """
record_id | discharge_minutes
three     | 100
two       | 100
none      | 2880
"""
given.observation = """
record_id | kind        | minutes
three     | temperature | 130
three     | heart_rate  | 131
three     | temperature | 160
two       | temperature | 130
two       | heart_rate  | 131
none      | temperature | 130
"""
expect = """
record_id | column_name       | severity
three     | discharge_minutes | query
"""

[[examples]]
because = "screens seen again and an admission anew are rightly later; three others beside them still tell"
given.admission = """
record_id | discharge_minutes
outside   | 100
three     | 100
"""
given.care = """
record_id | kind               | minutes
outside   | blood_spot         | 9000
outside   | hearing_assessment | 9000
outside   | readmission        | 9500
three     | readmission        | 9500
three     | bath               | 130
three     | car_seat           | 140
three     | heel_prick         | 150
"""
given.finding = """
record_id | kind           | minutes
outside   | hearing_screen | 9000
"""
expect = """
record_id | column_name       | severity
three     | discharge_minutes | query
"""

[[examples]]
because = "entries in the minute of leaving, and a leaving before birth (another rule), are left alone"
given.admission = """
record_id | discharge_minutes
same      | 100
before    | -5
"""
given.observation = """
record_id | kind        | minutes
same      | temperature | 100
before    | temperature | 10
before    | temperature | 20
before    | temperature | 30
"""
expect = """
record_id | column_name
"""
*/
select
    row_id,
    'discharge_minutes' as column_name,
from typed.admission
where newborn_id in (select newborn_id from after_leaving where is_leaving_doubtful)
