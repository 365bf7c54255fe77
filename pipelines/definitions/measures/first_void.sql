/*
title = "First void within a day"
question = "Had the newborn passed urine within 24 hours?"
also_called = ["urine", "wet diaper"]
group = "screening"
kind = "descriptive"
direction = "neither"
population = "Newborns born alive in the unit."
numerator = "The first void recorded inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 1440 }
window_status = "published"
owner = "born_here"
going_home = "ends"
exceptions = "None."
missing = "left_out"
sources = [
    "Korean Journal of Pediatrics, 2006: 95.8 % by 24 hours, 98.3 % by 36 hours",
    "Acta Paediatrica Sinica, 1991: 96 % by 24 hours, all by 48 hours",
]
disagreement = "Published shares differ a little, and with gestation. A unit that looks at 36 or 48 hours sets at_most."
documentation_trap = "What happened in the birth room is often not charted, and a later one then passes for the first. No row is not documented: it does not say that there was none."
caution = "This screens records. The published shares describe healthy newborns and are no target; most newborns who are late are well. Local policy decides when to look."
balancing = ["no_void_escalated"]
look_at = ["first void: time, status"]
version = "1.1"

[gravity]
level = "descriptive"
why = "It describes newborns, not care."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 1440 still counts, minute 1441 is late; minute 0 counts; the first of several counts"
given.admission = """
record_id
at0
at1440
at1441
twice
"""
given.care = """
record_id | kind       | minutes | status
at0       | first_void | 0       | done
at1440    | first_void | 1440    | done
at1441    | first_void | 1441    | done
twice     | first_void | 600     | done
twice     | first_void | 2000    | done
"""
expect = """
record_id | state | minutes
at0       | met   | 0
at1440    | met   | 1440
at1441    | late  | 1441
twice     | met   | 600
"""

[[examples]]
because = "no row is not documented; recorded as none is not done; a masked time is unusable; a usable one beside it is taken"
given.admission = """
record_id
no_row
none_yet
then_one
masked
mixed
"""
given.care = """
record_id | kind       | minutes | status   | unusable
none_yet  | first_void | 1440    | not_done |
then_one  | first_void | 1000    | not_done |
then_one  | first_void | 1200    | done     |
masked    | first_void |         | done     | minutes
mixed     | first_void |         | done     | minutes
mixed     | first_void | 700     | done     |
"""
expect = """
record_id | state          | reason
no_row    | not_documented |
none_yet  | not_done       | no reason recorded
then_one  | met            |
masked    | unusable       |
mixed     | met            |
"""

[[examples]]
because = "standard exclusions until the window closed"
given.admission = """
record_id     | live_birth | birth_place    | discharge_minutes | disposition
still         | false      | birth_room     |                   |
died_at_900   | true       | birth_room     | 900               | died
moved_at_900  | true       | birth_room     | 900               | transfer
moved_at_1440 | true       | birth_room     | 1440              | transfer
elsewhere     | true       | other_site     |                   |
on_the_way    | true       | before_arrival |                   |
comfort       | true       | birth_room     |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id     | state
still         | exclusion
died_at_900   | exclusion
moved_at_900  | exception
moved_at_1440 | not_documented
elsewhere     | exclusion
on_the_way    | exclusion
comfort       | exclusion
"""

[[examples]]
because = "a unit may look at 48 hours instead"
policy = { at_most = 2880 }
given.admission = """
record_id
at2880
at2881
"""
given.care = """
record_id | kind       | minutes | status
at2880    | first_void | 2880    | done
at2881    | first_void | 2881    | done
"""
expect = """
record_id | state
at2880    | met
at2881    | late
"""
*/
select
    newborn_id as newborn_id,
    not_done_reason as not_done_reason,
    is_documented as is_documented,
    is_usable as is_usable,
    minutes as minutes,
from care_once
where kind = 'first_void'
