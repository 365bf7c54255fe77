/*
title       = "Charted before it happened, or long after"
table       = "observation"
severity    = "query"
explanation = "The entry was charted before the time it gives for the reading. One of the two times is wrong: check both."
sources     = ["charted more than 12 hours later: our own limit, common practice, no published source"]
# query where it was charted before it happened; note where it was charted late. Where the reading's
# own time would fit if it were 12 hours or a day earlier, that time is asked for too.

[parameters]
late_after_minutes = 720
fits_within_minutes = 180

[[examples]]
because = "charted a minute early is found, in the same minute is not"
given.observation = """
record_id | kind        | minutes | charted_minutes
early     | temperature | 30      | 29
same      | temperature | 30      | 30
"""
expect = """
record_id | column_name     | severity
early     | charted_minutes | query
"""

[[examples]]
because = "charted eleven hours early: the reading is rather 12 hours late"
given.observation = """
record_id | kind        | minutes | charted_minutes
half_day  | temperature | 750     | 35
day       | temperature | 1470    | 35
"""
expect = """
record_id | column_name     | severity | suggestion                                       | explanation
half_day  | charted_minutes | query    |                                                  | The entry was charted before the time it gives for the reading. One of the two times is wrong: check both.
half_day  | minutes         | query    | 12 hours earlier would fit: 30 min after birth | The reading is later than it was charted, by half a day or a day. Morning and afternoon or the date may be wrong: check it.
day       | charted_minutes | query    |                                                  | The entry was charted before the time it gives for the reading. One of the two times is wrong: check both.
day       | minutes         | query    | a day earlier would fit: 30 min after birth    | The reading is later than it was charted, by half a day or a day. Morning and afternoon or the date may be wrong: check it.
"""

[[examples]]
because = "charted more than 12 hours later is noted, 12 hours later is not"
given.observation = """
record_id | kind        | minutes | charted_minutes
late      | temperature | 30      | 751
twelve    | temperature | 30      | 750
"""
expect = """
record_id | column_name     | severity | explanation
late      | charted_minutes | note     | Charted more than 12 hours after the reading: written from memory or from paper, or one of the two times is wrong.
"""

[[examples]]
because = "one time alone, and times before birth (another rule), are left alone"
given.observation = """
record_id | kind        | minutes | charted_minutes
alone     | temperature | 30      |
uncharted | temperature |         | 30
before    | temperature | -1400   | 40
"""
expect = """
record_id | column_name
"""
*/
with charted as (
    select
        reading.row_id,
        reading.charted_minutes - reading.minutes as delay_minutes,
        setting.late_after_minutes,
        if(
            reading.charted_minutes < reading.minutes,
            earlier_fits(
                reading.minutes,
                greatest(reading.charted_minutes - setting.fits_within_minutes, 0),
                reading.charted_minutes
            ),
            null
        ) as slip,
    from typed.observation as reading
    inner join rule_setting as setting using (unit)
    where
        reading.minutes >= 0
        and reading.charted_minutes >= 0
        and (
            reading.charted_minutes < reading.minutes
            or reading.charted_minutes > reading.minutes + setting.late_after_minutes
        )
)

select
    row_id,
    'charted_minutes' as column_name,
    if(delay_minutes < 0, 'query', 'note') as severity,
    if(
        delay_minutes < 0,
        null,
        format(
            'Charted more than {:.0f} hours after the reading: written from memory or from paper, '
                || 'or one of the two times is wrong.',
            late_after_minutes / 60
        )
    ) as explanation,
    null as suggestion,
from charted
union all
select
    row_id,
    'minutes' as column_name,
    'query' as severity,
    'The reading is later than it was charted, by half a day or a day. Morning and afternoon or the '
        || 'date may be wrong: check it.' as explanation,
    slip as suggestion,
from charted
where slip is not null
