/*
title       = "Moves and leaving in an order that cannot be"
table       = "admission"
severity    = "query"
explanation = "The newborn is recorded as leaving the unit before this time. One of the two times is wrong: check both."
sources     = ["a newborn leaves the room of birth before arriving elsewhere, and both before leaving the unit: what the columns mean", "the longest stay and the longest time in the room of birth: our own limits, common practice, no published source"]
# A query on both times, for either may be the wrong one.

[parameters]
longest_stay_days           = 270
longest_in_birth_room_hours = 24

[[examples]]
because = "arrival, leaving the room of birth or measuring after leaving the unit; a slip that would fit is named"
given.admission = """
record_id | arrival_minutes | leave_birth_room_minutes | size_minutes | discharge_minutes
arrived   | 1500            |                          |              | 1000
left      |                 | 1010                     |              | 1000
measured  |                 |                          | 1600         | 1000
"""
expect = """
record_id | column_name              | severity | suggestion
arrived   | arrival_minutes          | query    | 12 hours earlier would fit: 780 min after birth; a day earlier would fit: 60 min after birth
arrived   | discharge_minutes        | query    |
left      | leave_birth_room_minutes | query    | 12 hours earlier would fit: 290 min after birth
left      | discharge_minutes        | query    |
measured  | size_minutes             | query    | 12 hours earlier would fit: 880 min after birth; a day earlier would fit: 160 min after birth
measured  | discharge_minutes        | query    |
"""

[[examples]]
because = "born here and left the room of birth after arriving elsewhere"
given.admission = """
record_id | birth_place | leave_birth_room_minutes | arrival_minutes
turned    | birth_room  | 850                      | 140
"""
expect = """
record_id | column_name              | severity | suggestion                                          | explanation
turned    | leave_birth_room_minutes | query    | 12 hours earlier would fit: 130 min after birth | The newborn is recorded as leaving the room of birth after arriving at the next place. One of the two times is wrong: check both.
turned    | arrival_minutes          | query    |                                                 | The newborn is recorded as leaving the room of birth after arriving at the next place. One of the two times is wrong: check both.
"""

[[examples]]
because = "a stay of a year, and two days in the room of birth"
given.admission = """
record_id | birth_place | leave_birth_room_minutes | discharge_minutes
year      | birth_room  | 100                      | 528480
days      | birth_room  | 1500                     | 5000
"""
expect = """
record_id | column_name              | severity | suggestion                                       | explanation
year      | discharge_minutes        | query    | a year earlier would fit: 2880 min after birth | The stay is longer than 270 days. The year or month of leaving may be wrong: check it.
days      | leave_birth_room_minutes | query    | 12 hours earlier would fit: 780 min after birth; a day earlier would fit: 60 min after birth | More than 24 hours in the room of birth, though the newborn stayed on elsewhere: the date may be a day late. Check it.
"""

[[examples]]
because = "usual orders, the same minute, a newborn brought in, and one room for the whole stay are left alone"
given.admission = """
record_id | birth_place    | leave_birth_room_minutes | arrival_minutes | size_minutes | discharge_minutes
usual     | birth_room     | 120                      | 130             | 90           | 2880
same      | operating_room | 60                       | 60              | 60           | 60
brought   | other_site     | 400                      | 240             |              | 2880
one_room  | birth_room     | 2870                     |                 | 80           | 2880
blank     |                |                          |                 |              |
before    | birth_room     | -20                      | 130             | -5           | -30
"""
expect = """
record_id | column_name
"""
*/
with stay as (
    select
        newborn.*,
        setting.longest_stay_days,
        setting.longest_in_birth_room_hours,
    from typed.admission as newborn
    inner join rule_setting as setting using (unit)
    -- The few that may be meant: the list below is made for each row.
    where
        greatest(arrival_minutes, leave_birth_room_minutes, size_minutes) > discharge_minutes
        or leave_birth_room_minutes
        > least(arrival_minutes, setting.longest_in_birth_room_hours * 60)
        or discharge_minutes > setting.longest_stay_days * 1440
),

-- One row per time that is too late for another, or in itself, and the time it must not pass.
late as (
    select
        row_id,
        unnest(
            [
                {
                    'is_found': arrival_minutes > discharge_minutes,
                    'column_name': 'arrival_minutes',
                    'at_minute': arrival_minutes,
                    'bound_name': 'discharge_minutes',
                    'bound': discharge_minutes,
                    'explanation': null,
                },
                {
                    'is_found': leave_birth_room_minutes > discharge_minutes,
                    'column_name': 'leave_birth_room_minutes',
                    'at_minute': leave_birth_room_minutes,
                    'bound_name': 'discharge_minutes',
                    'bound': discharge_minutes,
                    'explanation': null,
                },
                {
                    'is_found': size_minutes > discharge_minutes,
                    'column_name': 'size_minutes',
                    'at_minute': size_minutes,
                    'bound_name': 'discharge_minutes',
                    'bound': discharge_minutes,
                    'explanation': null,
                },
                {
                    'is_found': birth_place in ('birth_room', 'operating_room')
                    and leave_birth_room_minutes > arrival_minutes,
                    'column_name': 'leave_birth_room_minutes',
                    'at_minute': leave_birth_room_minutes,
                    'bound_name': 'arrival_minutes',
                    'bound': arrival_minutes,
                    'explanation': 'The newborn is recorded as leaving the room of birth after '
                        || 'arriving at the next place. One of the two times is wrong: check both.',
                },
                {
                    'is_found': discharge_minutes > longest_stay_days * 1440,
                    'column_name': 'discharge_minutes',
                    'at_minute': discharge_minutes,
                    'bound_name': null,
                    'bound': longest_stay_days * 1440,
                    'explanation': format(
                        'The stay is longer than {:.0f} days. The year or month of leaving may '
                            || 'be wrong: check it.',
                        longest_stay_days
                    ),
                },
                {
                    -- Who left the room of birth for home had one room for the whole stay.
                    'is_found': birth_place in ('birth_room', 'operating_room')
                    and leave_birth_room_minutes > longest_in_birth_room_hours * 60
                    and leave_birth_room_minutes + 720 < discharge_minutes,
                    'column_name': 'leave_birth_room_minutes',
                    'at_minute': leave_birth_room_minutes,
                    'bound_name': null,
                    'bound': longest_in_birth_room_hours * 60,
                    'explanation': format(
                        'More than {:.0f} hours in the room of birth, though the newborn stayed '
                            || 'on elsewhere: the date may be a day late. Check it.',
                        longest_in_birth_room_hours
                    ),
                },
            ],
            recursive := true
        ),
    from stay
)

select
    row_id,
    column_name,
    explanation,
    earlier_fits(at_minute, 0, bound) as suggestion,
from late
where is_found and bound >= 0
union all
select
    row_id,
    bound_name as column_name,
    explanation,
    null as suggestion,
from late
where is_found and bound >= 0 and bound_name is not null
