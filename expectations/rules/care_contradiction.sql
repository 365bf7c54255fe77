/*
title       = "A care item that cannot have been so"
table       = "care"
severity    = "query"
explanation = "The seconds from birth to the cord clamp are very few or very many. They may be minutes, or another number on the wrong line: check it."
sources     = ["the limits of the cord clamp, of skin contact and of what is done at birth: our own, common practice, no published source"]

[parameters]
cord_seconds_at_least   = 2
cord_seconds_at_most    = 600
at_birth_within_minutes = 120
contact_at_most_hours   = 24
longest_days            = 200

[[examples]]
because = "cord clamped at one second, and at an hour"
given.care = """
record_id | kind       | quantity | minutes
second    | cord_clamp | 1        | 1
hour      | cord_clamp | 3600     | 1
"""
expect = """
record_id | column_name | severity | suggestion
second    | quantity    | query    | 60 seconds if the number was minutes
hour      | quantity    | query    | 60 seconds if it was turned into seconds twice
"""

[[examples]]
because = "what is done at birth, twelve hours or a day later"
given.care = """
record_id | kind       | minutes
half_day  | cord_clamp | 721
day       | drying     | 1441
"""
expect = """
record_id | column_name | severity | suggestion                                      | explanation
half_day  | minutes     | query    | 12 hours earlier would fit: 1 min after birth | This is done at birth, but its time is hours later. Morning and afternoon or the date may be wrong: check it.
day       | minutes     | query    | a day earlier would fit: 1 min after birth    | This is done at birth, but its time is hours later. Morning and afternoon or the date may be wrong: check it.
"""

[[examples]]
because = "skin contact that goes on after leaving, or longer than a day"
given.admission = """
record_id | discharge_minutes
left      | 2880
"""
given.care = """
record_id | kind         | minutes | end_minutes
left      | skin_contact | 10      | 2890
day       | skin_contact | 10      | 1520
"""
expect = """
record_id | column_name | severity | suggestion                                       | explanation
left      | end_minutes | query    | 12 hours earlier would fit: 2170 min after birth; a day earlier would fit: 1450 min after birth | The end is after the newborn left the unit. One of the two times is wrong: check both.
day       | end_minutes | query    | 12 hours earlier would fit: 800 min after birth; a day earlier would fit: 80 min after birth | The contact is longer than 24 hours. Morning and afternoon or the date of its end may be wrong: check it.
"""

[[examples]]
because = "moved on before arriving"
given.admission = """
record_id | arrival_minutes
moved     | 200
"""
given.care = """
record_id | kind     | minutes
moved     | transfer | 150
"""
expect = """
record_id | column_name | severity | explanation
moved     | minutes     | query    | The newborn is recorded as moved on before arriving. One of the two times is wrong: check both.
"""

[[examples]]
because = "usual times and numbers, what was not done, what is not done at birth, a newborn brought in and the journey that brought it, and cooling for days are left alone"
given.admission = """
record_id | discharge_minutes | arrival_minutes | birth_place
usual     | 2880              |                 | birth_room
brought   | 2880              | 400             | other_site
"""
given.care = """
record_id | kind         | minutes | end_minutes | quantity | status
usual     | cord_clamp   | 1       |             | 62       |
usual     | skin_contact | 10      | 80          |          |
usual     | bath         | 2870    | 2880        |          |
usual     | warmer       | 900     |             |          |
brought   | drying       | 405     |             |          |
brought   | head_cover   | 405     |             |          |
brought   | transfer     | 370     |             |          |
cooled    | cooling      | 60      | 4400        |          |
not_done  | cord_clamp   | 900     |             | 0        | not_done
"""
expect = """
record_id | column_name
"""
*/
with care as (
    select
        care.row_id,
        care.kind,
        care.minutes,
        care.end_minutes,
        care.quantity,
        newborn.discharge_minutes,
        newborn.arrival_minutes,
        coalesce(newborn.birth_place in ('other_site', 'before_arrival'), false) as is_brought_in,
        setting.* exclude (unit),
    from typed.care as care
    inner join rule_setting as setting using (unit)
    left join typed.admission as newborn using (newborn_id)
    where
        coalesce(care.status, 'done') = 'done'
        and (
            care.kind in ('cord_clamp', 'drying', 'head_cover', 'plastic_bag', 'transfer')
            or care.end_minutes is not null
        )
),

found as (
    select
        row_id,
        'quantity' as column_name,
        null as explanation,
        case
            when quantity between 1 and 10
            then format('{:.0f} seconds if the number was minutes', quantity * 60)
            when quantity / 60 between cord_seconds_at_least and cord_seconds_at_most
            then format('{:.0f} seconds if it was turned into seconds twice', quantity / 60)
        end as suggestion,
    from care
    where
        kind = 'cord_clamp'
        and not quantity between cord_seconds_at_least and cord_seconds_at_most
    union all
    select
        row_id,
        'minutes' as column_name,
        'This is done at birth, but its time is hours later. Morning and afternoon or the date may '
            || 'be wrong: check it.' as explanation,
        earlier_fits(minutes, 0, at_birth_within_minutes) as suggestion,
    from care
    where
        kind in ('cord_clamp', 'drying', 'head_cover', 'plastic_bag')
        and minutes > at_birth_within_minutes
        and not is_brought_in
        and coalesce(minutes <= discharge_minutes, true)  -- later: after_leaving
    union all
    select
        row_id,
        'end_minutes' as column_name,
        case
            when end_minutes > discharge_minutes
            then 'The end is after the newborn left the unit. One of the two times is wrong: '
                || 'check both.'
            when kind = 'skin_contact'
            then format(
                'The contact is longer than {:.0f} hours. Morning and afternoon or the date of its '
                    || 'end may be wrong: check it.',
                contact_at_most_hours
            )
            else format('The end is more than {:.0f} days later: check its year.', longest_days)
        end as explanation,
        earlier_fits(
            end_minutes, greatest(minutes, 0), coalesce(discharge_minutes, minutes + 1440)
        ) as suggestion,
    from care
    where
        end_minutes > discharge_minutes and minutes <= discharge_minutes
        or kind = 'skin_contact' and end_minutes - minutes > contact_at_most_hours * 60
        or end_minutes - minutes > longest_days * 1440
    union all
    select
        row_id,
        'minutes' as column_name,
        'The newborn is recorded as moved on before arriving. One of the two times is wrong: '
            || 'check both.' as explanation,
        null as suggestion,
    from care
    where
        kind = 'transfer'
        and minutes < arrival_minutes
        and minutes >= 0
        and not is_brought_in  -- the journey that brought it is none of its moves
)

select * from found
