/*
title = "Mother's hepatitis B status known in time"
question = "Was the mother's hepatitis B status known within 12 hours of birth?"
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 6 hours of age."
numerator = "A status, positive or negative, that was known before birth or inside the window."
anchor = "birth"
window = { at_least = 0, at_most = 720 }
window_status = "local"
follows = { arrived_before = "hepatitis_b_birth_dose" }
owner = "born_here_or_arrived"
arrived_before = 360
exceptions = "None."
missing = "not_met"
sources = [
    "ACIP, MMWR, 2018: what a newborn needs is decided by the mother's status and due within 12 hours",
    "Brought in before 6 hours: local decision, no published value",
    "That the status be known by 12 hours: local decision, drawn from what is then due",
]
disagreement = "Some units ask for the status at birth: set at_most to 0."
documentation_trap = "The result sits on the mother's chart and may not be linked: the newborn then counts as not documented. A status without a time is read as known before birth, minute 0. Recorded as not known is documented, and not met."
caution = "This screens records and advises no care. A test needs the mother's consent. A result that comes between 10 and 12 hours leaves little time: list those newborns apart."
balancing = ["hepatitis_b_mother_positive"]
look_at = ["admission: mother's hepatitis B status and when it was known"]
version = "1.1"

[gravity]
level = "serious"
why = "The mother's status decides which doses the newborn needs within hours."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 720 still counts, 721 is late; known before birth counts from minute 0, with or without its time"
given.admission = """
record_id | maternal_hepatitis_b | maternal_hepatitis_b_minutes
at720     | negative             | 720
at721     | positive             | 721
before    | negative             | -90000
no_time   | positive             |
"""
expect = """
record_id | state | minutes
at720     | met   | 720
at721     | late  | 721
before    | met   | 0
no_time   | met   | 0
"""

[[examples]]
because = "blank is not documented, recorded as not known is not met, a masked status or time is unusable"
given.admission = """
record_id  | maternal_hepatitis_b | maternal_hepatitis_b_minutes | unusable
blank      |                      |                              |
unknown    | unknown              |                              |
bad_status |                      |                              | maternal_hepatitis_b
bad_time   | negative             |                              | maternal_hepatitis_b_minutes
"""
expect = """
record_id  | state
blank      | not_documented
unknown    | not_met
bad_status | unusable
bad_time   | unusable
"""

[[examples]]
because = "standard exclusions; a newborn moved at 15 hours is not among them"
given.admission = """
record_id    | live_birth | birth_place    | maternal_hepatitis_b | discharge_minutes | disposition
still        | false      | birth_room     | negative             |                   |
died_at_200  | true       | birth_room     |                      | 200               | died
moved_at_40  | true       | birth_room     | negative             | 40                | transfer
moved_at_900 | true       | birth_room     | negative             | 900               | transfer
elsewhere    | true       | other_site     | negative             |                   |
on_the_way   | true       | before_arrival | negative             |                   |
comfort      | true       | birth_room     | negative             |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id    | state
still        | exclusion
died_at_200  | exclusion
moved_at_40  | met
moved_at_900 | met
elsewhere    | exclusion
on_the_way   | met
comfort      | met
"""

[[examples]]
because = "born on the way is owed it here, and so is one brought in before 6 hours; later, or nobody knows when, it is not"
given.admission = """
record_id   | birth_place    | arrival_minutes
on_the_way  | before_arrival | 20
way_untimed | before_arrival |
early       | other_site     | 359
late        | other_site     | 360
way_late    | before_arrival | 360
untimed     | other_site     |
"""
expect = """
record_id   | state          | reason
on_the_way  | not_documented |
way_untimed | not_documented |
early       | not_documented |
late        | exclusion      | arrived too late
way_late    | exclusion      | arrived too late
untimed     | exclusion      | arrival not known
"""
*/
select
    newborn_id as newborn_id,
    maternal_hepatitis_b is not null
    or coalesce(list_contains(unusable, 'maternal_hepatitis_b'), false) as is_documented,
    maternal_hepatitis_b is not null
    and not coalesce(list_contains(unusable, 'maternal_hepatitis_b_minutes'), false)
        as is_usable,
    case
        when
            maternal_hepatitis_b not in ('positive', 'negative')
            or list_contains(unusable, 'maternal_hepatitis_b_minutes')
            then null
        when maternal_hepatitis_b is null then null
        when maternal_hepatitis_b_minutes > 0 then maternal_hepatitis_b_minutes
        else 0
    end as minutes,
from mart.newborn
