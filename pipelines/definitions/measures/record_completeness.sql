/*
title = "Record complete"
question = "Are the fields that every other measure leans on present and usable?"
group = "the record"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or brought to it."
numerator = "At least the asked share of 14 needed fields is present and usable: place and mode of birth, gestation, sex, number born, weight, length, head circumference, both Apgar totals, the mother's hepatitis B status, how the stay ended, and the family's language and payer."
anchor = "the record as it was exported"
window_status = "local"
parameters = { share_needed = 1.0 }
owner = "recorded"
exceptions = "None."
missing = "not_met"
sources = ["List of fields and the share asked for: local decision, no published value"]
disagreement = "Which fields are needed differs with what a unit measures. Times of events are not in this list: each measure counts its own as not documented."
documentation_trap = "A blank field is not documented; one that was flagged or on no recode list is unusable. Both must be filled or answered before the record counts. A default value makes a record look complete."
caution = "This screens records, not care: a complete record can be wrong. It stands beside every other measure."
balancing = []
look_at = ["admission: the columns that are blank"]
listed = false
version = "1.0"

[gravity]
level = "process"
why = "A gap of the record, whatever the care was."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[examples]]
because = "all 14 present is met; one blank is not documented; one masked is unusable; a blank beside a masked one is not documented"
given.admission = """
record_id | birth_place | mode_of_birth | gestational_age_days | sex  | plurality | weight_g | length_cm | head_circumference_cm | apgar_1 | apgar_5 | maternal_hepatitis_b | disposition | language | payer  | unusable
complete  | birth_room  | vaginal       | 280                  | male | 1         | 3200     | 50        | 34                    | 8       | 9       | negative             | home        | English  | Public |
no_sex    | birth_room  | vaginal       | 280                  |      | 1         | 3200     | 50        | 34                    | 8       | 9       | negative             | home        | English  | Public |
masked    | birth_room  | vaginal       | 280                  | male | 1         |          | 50        | 34                    | 8       | 9       | negative             | home        | English  | Public | weight_g
both      | birth_room  | vaginal       | 280                  | male | 1         |          |           | 34                    | 8       | 9       | negative             | home        | English  | Public | weight_g
"""
expect = """
record_id | state
complete  | met
no_sex    | not_documented
masked    | unusable
both      | not_documented
"""

[[examples]]
because = "a unit may ask for a smaller share: 13 of 14 fields are enough for 0.9, 12 are not; a stillborn is set apart, a newborn brought in is not"
policy = { share_needed = 0.9 }
given.admission = """
record_id | live_birth | birth_place | mode_of_birth | gestational_age_days | sex  | plurality | weight_g | length_cm | head_circumference_cm | apgar_1 | apgar_5 | maternal_hepatitis_b | disposition | language | payer
thirteen  | true       | other_site  | vaginal       | 280                  | male | 1         | 3200     | 50        | 34                    | 8       | 9       | negative             | home        | English  |
twelve    | true       | birth_room  | vaginal       | 280                  | male | 1         | 3200     | 50        | 34                    | 8       | 9       | negative             | home        |          |
still     | false      | birth_room  |               |                      |      |           |          |           |                       |         |         |                      |             |          |
"""
expect = """
record_id | state
thirteen  | met
twelve    | not_documented
still     | exclusion
"""
*/
with fields as (
    select
        newborn.newborn_id as newborn_id,
        setting.share_needed as share_needed,
        14 as needed,
        (newborn.birth_place is not null)::integer
        + (newborn.mode_of_birth is not null)::integer
        + (newborn.gestational_age_days is not null)::integer
        + (newborn.sex is not null)::integer
        + (newborn.plurality is not null)::integer
        + (newborn.weight_g is not null)::integer
        + (newborn.length_cm is not null)::integer
        + (newborn.head_circumference_cm is not null)::integer
        + (newborn.apgar_1 is not null)::integer
        + (newborn.apgar_5 is not null)::integer
        + (newborn.maternal_hepatitis_b is not null)::integer
        + (newborn.disposition is not null)::integer
        + (newborn.language is not null)::integer
        + (newborn.payer is not null)::integer as usable,
        len(
            list_intersect(
                coalesce(newborn.unusable, []),
                [
                    'birth_place', 'mode_of_birth', 'gestational_age_days', 'sex', 'plurality',
                    'weight_g', 'length_cm', 'head_circumference_cm', 'apgar_1', 'apgar_5',
                    'maternal_hepatitis_b', 'disposition', 'language', 'payer'
                ]
            )
        ) as masked,
    from mart.newborn as newborn
    inner join setting on setting.newborn_id = newborn.newborn_id
)

select
    newborn_id as newborn_id,
    (usable + masked) / needed >= share_needed as is_documented,
    usable / needed >= share_needed as is_usable,
    usable / needed >= share_needed as is_met,
from fields
