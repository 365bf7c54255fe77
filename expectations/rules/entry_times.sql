/*
title       = "Entries of one newborn whose times cannot all be true"
table       = ["observation", "dose", "care", "finding"]
severity    = "query"
explanation = "Every timed entry of this newborn has the same minute. They were probably filled in together, or a field was filled from another: check the times."
sources     = ["how many entries, what share of them at nought, and how late is too late: our own limits, common practice, no published source"]
# Where the whole record lies a year on, the date of birth is asked for (birth_day_slip); what is
# later than leaving has its own flag (after_leaving).

[parameters]
entries_at_least     = 8
share_at_zero        = 0.8
no_later_than_days   = 200

[[examples]]
because = "eight of eight entries at minute 65; a unit may ask for three"
numbers = { entries_at_least = 3 }
given.observation = """
record_id | kind        | minutes
same      | temperature | 65
"""
given.dose = """
record_id | kind      | minutes
same      | vitamin_k | 65
"""
given.care = """
record_id | kind       | minutes
same      | first_feed | 65
"""
given.finding = """
record_id | kind   | minutes
same      | palate | 65
"""
expect = """
table_name  | record_id | column_name | severity
observation | same      | minutes     | query
dose        | same      | minutes     | query
care        | same      | minutes     | query
finding     | same      | minutes     | query
"""

[[examples]]
because = "nearly all at minute nought"
numbers = { entries_at_least = 4 }
given.observation = """
record_id | kind             | minutes
nought    | temperature      | 0
nought    | heart_rate       | 0
nought    | respiratory_rate | 0
"""
given.dose = """
record_id | kind           | minutes
nought    | vitamin_k      | 0
nought    | eye_antibiotic | 90
"""
expect = """
table_name  | record_id | column_name | explanation
observation | nought    | minutes     | Nearly all entries of this newborn stand at the minute of birth. A time left blank may have been filled with 0, or with the time of birth: check the times.
dose        | nought    | minutes     | Nearly all entries of this newborn stand at the minute of birth. A time left blank may have been filled with 0, or with the time of birth: check the times.
"""

[[examples]]
because = "one entry a year late, of a newborn of whom no leaving is known"
given.observation = """
record_id | kind        | minutes
year      | temperature | 30
year      | heart_rate  | 525633
"""
expect = """
table_name  | record_id | column_name | suggestion                                       | explanation
observation | year      | minutes     | a year earlier would fit: 33 min after birth | The time is more than 200 days after birth, while other entries of this newborn are not. The year or the month may be wrong: check it.
"""

[[examples]]
because = "few entries, a set in one minute beside others, what is late for a leaving (another rule) or with the whole record (another rule) are left alone"
given.admission = """
record_id | discharge_minutes
gone      | 2880
"""
given.observation = """
record_id | kind             | minutes
few       | temperature      | 65
few       | heart_rate       | 65
set       | temperature      | 65
set       | heart_rate       | 65
set       | respiratory_rate | 65
gone      | temperature      | 30
gone      | heart_rate       | 525633
whole     | temperature      | 525633
"""
given.care = """
record_id | kind         | minutes
set       | drying       | 0
set       | cord_clamp   | 0
set       | head_cover   | 0
set       | skin_contact | 0
set       | first_feed   | 40
"""
expect = """
table_name | record_id | column_name
"""
*/
with doubtful as (
    select
        entries.newborn_id,
        setting.no_later_than_days,
        entries.first_minute = entries.last_minute and entries.first_minute > 0
        and entries.entries >= setting.entries_at_least as is_one_minute,
        entries.at_zero >= setting.share_at_zero * entries.entries
        and entries.entries >= setting.entries_at_least as is_at_zero,
        entries.first_minute <= setting.no_later_than_days * 1440
        and entries.last_minute > setting.no_later_than_days * 1440 as is_far,
        newborn.discharge_minutes,
    from newborn_entries as entries
    inner join rule_setting as setting using (unit)
    left join typed.admission as newborn using (newborn_id)
)

select
    entry.table_name,
    entry.row_id,
    'minutes' as column_name,
    case
        when is_at_zero
        then 'Nearly all entries of this newborn stand at the minute of birth. A time left blank '
            || 'may have been filled with 0, or with the time of birth: check the times.'
        when is_far
        then format(
            'The time is more than {:.0f} days after birth, while other entries of this newborn '
                || 'are not. The year or the month may be wrong: check it.',
            no_later_than_days
        )
    end as explanation,
    if(is_far, earlier_fits(entry.minutes, 0, 43200), null) as suggestion,
from doubtful
inner join timed_entry as entry using (newborn_id)
where
    is_one_minute
    or is_at_zero and entry.minutes = 0
    or is_far
    and entry.minutes > no_later_than_days * 1440
    and coalesce(entry.minutes <= discharge_minutes or discharge_minutes < 0, true)
