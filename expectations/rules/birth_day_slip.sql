/*
title       = "The date of birth does not fit the entries"
table       = "admission"
severity    = "query"
explanation = "Nearly all entries of this newborn are before birth. Rather than all of them the date of birth is wrong, perhaps a day or a year too late: check it."
sources     = ["how many entries, what share of them, and the hours without any: our own limits, common practice, no published source"]
# The time of birth is not kept, so nothing is masked here; entries before birth have their own
# flag (before_birth).

[parameters]
entries_at_least     = 4
share_at_least       = 0.8
silent_for_hours     = 20

[[examples]]
because = "four of four entries before birth"
given.admission = """
record_id | birth_place
late      | birth_room
"""
given.care = """
record_id | kind       | minutes
late      | drying     | -1439
late      | head_cover | -1438
late      | cord_clamp | -1439
late      | first_feed | -1400
"""
expect = """
record_id | column_name | severity
late      | birth_time  | query
"""

[[examples]]
because = "born here, and the first of four entries a day or a year after birth: the same time a day or a year later would fit"
given.admission = """
record_id | birth_place
day       | birth_room
year      | operating_room
"""
given.care = """
record_id | kind       | minutes
day       | drying     | 1441
day       | head_cover | 1442
day       | cord_clamp | 1441
day       | first_feed | 1480
year      | drying     | 525601
year      | head_cover | 525602
year      | cord_clamp | 525601
year      | first_feed | 525640
"""
expect = """
record_id | column_name | severity | suggestion                                                                         | explanation
day       | birth_time  | query    | If the date of birth is a day too early, the first entry is 1 min after birth.  | Born here, but the first of 4 entries is 24 hours after birth. The date of birth may be too early: check it.
year      | birth_time  | query    | If the year of birth is one too early, the first entry is 1 min after birth.    | Born here, but the first of 4 entries is 8760 hours after birth. The date of birth may be too early: check it.
"""

[[examples]]
because = "one entry before birth, few entries, and a newborn brought in on the second day are left alone"
given.admission = """
record_id | birth_place
one       | birth_room
few       | birth_room
brought   | other_site
"""
given.care = """
record_id | kind       | minutes
one       | drying     | -3
one       | head_cover | 2
one       | cord_clamp | 1
one       | first_feed | 40
few       | first_feed | 1500
brought   | drying     | 1441
brought   | head_cover | 1442
brought   | two_bands  | 1441
brought   | first_feed | 1480
"""
expect = """
record_id | column_name
"""
*/
with born as (
    select
        newborn.row_id,
        newborn.birth_place,
        entries.* exclude (unit),
        setting.* exclude (unit),
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    inner join newborn_entries as entries using (newborn_id)
    where
        entries.entries >= setting.entries_at_least
        and (entries.before_birth > 0 or entries.first_minute > setting.silent_for_hours * 60)
)

select
    row_id,
    'birth_time' as column_name,
    null as explanation,
    null as suggestion,
from born
where before_birth >= share_at_least * entries
union all
select
    row_id,
    'birth_time' as column_name,
    format(
        'Born here, but the first of {} entries is {:.0f} hours after birth. The date of birth '
            || 'may be too early: check it.',
        entries,
        first_minute / 60
    ) as explanation,
    case
        when first_minute between 525600 and 528480
        then format(
            'If the year of birth is one too early, the first entry is {:.0f} min after birth.',
            first_minute - if(first_minute < 527040, 525600, 527040)
        )
        when first_minute >= 1440 and first_minute < 2880
        then format(
            'If the date of birth is a day too early, the first entry is {:.0f} min after birth.',
            first_minute - 1440
        )
    end as suggestion,
from born
where
    first_minute > silent_for_hours * 60
    and birth_place in ('birth_room', 'operating_room')
