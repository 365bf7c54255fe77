/*
title       = "Told before it was found, or long after"
table       = "finding"
severity    = "query"
explanation = "Somebody was told of the finding before the time it was looked at. One of the two times is wrong: check both."
sources     = ["what is told was found before; a week for what is told late: our own limit, common practice, no published source"]
# A query on both times, for either may be the wrong one.

[parameters]
told_within_days = 7

[[examples]]
because = "told before; twelve hours or a day later would fit"
given.finding = """
record_id | kind  | minutes | told_minutes
before    | hips  | 100     | 70
half_day  | hips  | 800     | 110
day       | hips  | 1500    | 70
"""
expect = """
record_id | column_name  | severity | suggestion
before    | told_minutes | query    |
before    | minutes      | query    |
half_day  | told_minutes | query    | 12 hours later would fit: 830 min after birth
half_day  | minutes      | query    | 12 hours earlier would fit: 80 min after birth
day       | told_minutes | query    | a day later would fit: 1510 min after birth
day       | minutes      | query    | a day earlier would fit: 60 min after birth
"""

[[examples]]
because = "told a year later"
given.finding = """
record_id | kind | minutes | told_minutes
year      | hips | 100     | 525720
"""
expect = """
record_id | column_name  | severity | suggestion                                        | explanation
year      | told_minutes | query    | a year earlier would fit: 120 min after birth | Somebody was told of the finding more than 7 days after it. The date may be wrong: check it.
"""

[[examples]]
because = "told in the same minute, later, nobody told, and times before birth (another rule) are left alone"
given.finding = """
record_id | kind | minutes | told_minutes
same      | hips | 100     | 100
later     | hips | 100     | 160
nobody    | hips | 100     |
no_time   | hips |         | 100
early     | hips | 100     | -40
"""
expect = """
record_id | column_name
"""
*/
with told as (
    select
        finding.row_id,
        finding.minutes,
        finding.told_minutes,
        setting.told_within_days,
    from typed.finding as finding
    inner join rule_setting as setting using (unit)
    where
        finding.told_minutes >= 0
        and finding.minutes >= 0
        and (
            finding.told_minutes < finding.minutes
            or finding.told_minutes > finding.minutes + setting.told_within_days * 1440
        )
)

select
    row_id,
    'told_minutes' as column_name,
    if(
        told_minutes < minutes,
        null,
        format(
            'Somebody was told of the finding more than {:.0f} days after it. The date may be '
                || 'wrong: check it.',
            told_within_days
        )
    ) as explanation,
    -- A slip is named where the two times would then lie within six hours.
    case
        when told_minutes > minutes
        then earlier_fits(told_minutes, minutes, minutes + told_within_days * 1440)
        when told_minutes + 720 between minutes and minutes + 360
        then format('12 hours later would fit: {:.0f} min after birth', told_minutes + 720)
        when told_minutes + 1440 between minutes and minutes + 360
        then format('a day later would fit: {:.0f} min after birth', told_minutes + 1440)
    end as suggestion,
from told
union all
select
    row_id,
    'minutes' as column_name,
    null as explanation,
    earlier_fits(minutes, greatest(told_minutes - 360, 0), told_minutes) as suggestion,
from told
where told_minutes < minutes
