/*
title = "Two matched bands before leaving the birth room"
question = "Did the newborn wear two bands, checked against the mother's, before leaving the birth room?"
also_called = ["identification", "wristbands"]
group = "identity"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit."
numerator = "Two identity bands put on and their numbers checked against the mother's, both at or before the minute of leaving the birth room; in a unit with one room, where no leaving is recorded, no later than 2 hours after birth or the minute of leaving the unit."
anchor = "leaving the birth room"
window = { at_least = 0 }
window_status = "local"
parameters = { require_band_check = true, one_room = false, one_room_at_most = 120 }
owner = "born_here"
exceptions = "Emergency move recorded as the reason."
missing = "not_met"
sources = [
    "Spanish neonatology society, Anales de Pediatria, 2017: identical numbers on mother, newborn and cord clamp",
    "Leaving the birth room as the limit, 2 hours where there is one room: local decision, no published value",
]
disagreement = "Some units use two bands on the newborn, others one band and a numbered cord clamp or an electronic tag. A unit that does not chart the check sets require_band_check to false. A unit where newborns stay in the room of birth sets one_room."
documentation_trap = "The time of banding and the time of leaving are rarely charted; without a believable leaving time the newborn is unusable. The exception asks for one band and an escort, which the record cannot show: look at each. A tick that is always there deserves a walk to the bedside."
caution = "This screens records; it does not prove that a band was on the right newborn. A miss is rare and serious: days between misses tell more than a monthly rate. Local policy decides what counts as a matched band."
balancing = ["skin_contact_start"]
look_at = ["two bands: time, status", "admission: when the newborn left the birth room"]
version = "1.1"

[gravity]
level = "sentinel"
why = "A newborn who leaves the room without two matched bands can be mistaken for another."

[gravity.states]
late = { level = "serious", why = "Banded or checked some minutes after leaving: it may be the time of charting, or a walk without bands." }
not_documented = { level = "process", why = "Bands that stand on no record are most often a gap of the record; their number says how large it is." }
unusable = { level = "process", why = "Without the minute of leaving nobody can say which came first." }

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "a unit with one room can meet the bands; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "the minute of leaving still counts, the next is late; the later of bands and check decides"
given.admission = """
record_id  | leave_birth_room_minutes
at_leaving | 120
after      | 120
check_late | 120
again      | 120
"""
given.care = """
record_id  | kind       | minutes | status
at_leaving | two_bands  | 30      | done
at_leaving | band_check | 120     | done
after      | two_bands  | 121     | done
after      | band_check | 121     | done
check_late | two_bands  | 30      | done
check_late | band_check | 150     | done
again      | two_bands  | 30      | done
again      | two_bands  | 300     | done
again      | band_check | 31      | done
again      | band_check | 301     | done
"""
expect = """
record_id  | state | minutes
at_leaving | met   | 120
after      | late  | 121
check_late | late  | 150
again      | met   | 31
"""

[[examples]]
because = "twins of one birth are two newborns: the one without a row is not documented; half a pair is not documented"
given.admission = """
record_id  | plurality | leave_birth_room_minutes
twin_a     | 2         | 120
twin_b     | 2         | 120
no_check   | 1         | 120
check_only | 1         | 120
"""
given.care = """
record_id  | kind       | minutes | status
twin_a     | two_bands  | 30      | done
twin_a     | band_check | 31      |
no_check   | two_bands  | 30      | done
check_only | band_check | 30      | done
"""
expect = """
record_id  | state
twin_a     | met
twin_b     | not_documented
no_check   | not_documented
check_only | not_documented
"""

[[examples]]
because = "without a believable leaving time, or with a masked time of banding, it is unusable; a usable time beside it is taken"
given.admission = """
record_id    | leave_birth_room_minutes | unusable
no_leave     |                          |
bad_leave    |                          | leave_birth_room_minutes
no_leave_row |                          |
before_birth | 120                      |
mixed        | 120                      |
"""
given.care = """
record_id    | kind       | minutes | status | unusable
no_leave     | two_bands  | 30      | done   |
no_leave     | band_check | 31      | done   |
bad_leave    | two_bands  | 30      | done   |
bad_leave    | band_check | 31      | done   |
before_birth | two_bands  |         | done   | minutes
before_birth | band_check | 31      | done   |
mixed        | two_bands  |         | done   | minutes
mixed        | two_bands  | 40      | done   |
mixed        | band_check | 41      | done   |
"""
expect = """
record_id    | state          | minutes
no_leave     | unusable       | 31
bad_leave    | unusable       | 31
no_leave_row | not_documented |
before_birth | unusable       |
mixed        | met            | 41
"""

[[examples]]
because = "an emergency move is an exception unless it was done in time; other reasons and none are not done"
given.admission = """
record_id | leave_birth_room_minutes
emergency | 5
then_done | 60
then_late | 5
unstable  | 60
no_reason | 60
check_not | 60
"""
given.care = """
record_id | kind       | minutes | status   | reason
emergency | two_bands  |         | not_done | emergency_move
then_done | two_bands  | 2       | not_done | emergency_move
then_done | two_bands  | 20      | done     |
then_done | band_check | 21      | done     |
then_late | two_bands  | 2       | not_done | emergency_move
then_late | two_bands  | 20      | done     |
then_late | band_check | 21      | done     |
unstable  | two_bands  | 2       | not_done | newborn_unstable
no_reason | two_bands  | 2       | not_done |
check_not | two_bands  | 2       | done     |
check_not | band_check | 2       | not_done | separation
"""
expect = """
record_id | state     | reason
emergency | exception | emergency_move
then_done | met       |
then_late | exception | emergency_move
unstable  | not_done  | newborn_unstable
no_reason | not_done  | no reason recorded
check_not | not_done  | separation
"""

[[examples]]
because = "standard exclusions: events before the newborn left the room, and births elsewhere"
given.admission = """
record_id    | live_birth | birth_place    | leave_birth_room_minutes | discharge_minutes | disposition
still        | false      | birth_room     |                          |                   |
died_at_30   | true       | birth_room     | 60                       | 30                | died
moved_at_40  | true       | birth_room     | 60                       | 40                | transfer
died_later   | true       | birth_room     | 60                       | 3000              | died
moved_no_out | true       | birth_room     |                          | 3000              | transfer
elsewhere    | true       | other_site     | 60                       |                   |
on_the_way   | true       | before_arrival | 60                       |                   |
comfort      | true       | birth_room     | 60                       |                   |
"""
given.care = """
record_id    | kind         | minutes | status
comfort      | comfort_care | 5       | done
moved_no_out | two_bands    | 10      | done
moved_no_out | band_check   | 10      | done
"""
expect = """
record_id    | state
still        | exclusion
died_at_30   | exclusion
moved_at_40  | exception
died_later   | not_documented
moved_no_out | unusable
elsewhere    | exclusion
on_the_way   | exclusion
comfort      | exclusion
"""

[[examples]]
because = "in a unit with one room 2 hours or leaving the unit are the limit where no leaving of the room is recorded; a recorded one still is, and one that cannot be read stays unusable"
policy = { one_room = true }
given.admission = """
record_id | leave_birth_room_minutes | discharge_minutes | unusable
at120     |                          |                   |
at121     |                          |                   |
home_90   |                          | 90                |
has_left  | 30                       |                   |
bad_leave |                          |                   | leave_birth_room_minutes
no_row    |                          |                   |
"""
given.care = """
record_id | kind       | minutes | status
at120     | two_bands  | 10      | done
at120     | band_check | 120     | done
at121     | two_bands  | 10      | done
at121     | band_check | 121     | done
home_90   | two_bands  | 10      | done
home_90   | band_check | 91      | done
has_left  | two_bands  | 10      | done
has_left  | band_check | 31      | done
bad_leave | two_bands  | 10      | done
bad_leave | band_check | 11      | done
"""
expect = """
record_id | state          | minutes
at120     | met            | 120
at121     | late           | 121
home_90   | late           | 91
has_left  | late           | 31
bad_leave | unusable       | 11
no_row    | not_documented |
"""

[[examples]]
because = "a unit that does not chart the check leaves it out"
policy = { require_band_check = false }
given.admission = """
record_id | leave_birth_room_minutes
bands     | 60
check     | 60
"""
given.care = """
record_id | kind       | minutes | status
bands     | two_bands  | 10      | done
check     | band_check | 10      | done
"""
expect = """
record_id | state
bands     | met
check     | not_documented
"""
*/
with items as (
    select
        event.newborn_id as newborn_id,
        event.kind as kind,
        event.minutes as minutes,
        event.status as status,
        event.reason as reason,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where
        event.kind = 'two_bands'
        or (event.kind = 'band_check' and setting.require_band_check)
),

by_newborn as (
    select
        newborn_id as newborn_id,
        bool_or(kind = 'two_bands') as has_bands_row,
        bool_or(kind = 'band_check') as has_check_row,
        coalesce(bool_or(kind = 'two_bands' and status = 'done'), false) as is_banded,
        coalesce(bool_or(kind = 'band_check' and status = 'done'), false) as is_checked,
        min(minutes) filter (where kind = 'two_bands' and status = 'done') as bands_minutes,
        min(minutes) filter (where kind = 'band_check' and status = 'done') as check_minutes,
        bool_or(status = 'not_done' and reason = 'emergency_move') as is_emergency,
        min(coalesce(reason, 'no reason recorded')) filter (
            where kind = 'two_bands' and status = 'not_done'
        ) as bands_reason,
        min(coalesce(reason, 'no reason recorded')) filter (
            where kind = 'band_check' and status = 'not_done'
        ) as check_reason,
    from items
    group by newborn_id
),

pairs as (
    select
        newborn.newborn_id as newborn_id,
        case
            when newborn.leave_birth_room_minutes is not null
                then newborn.leave_birth_room_minutes
            when
                setting.one_room
                and not coalesce(
                    list_contains(newborn.unusable, 'leave_birth_room_minutes'), false
                )
                then least(
                    setting.one_room_at_most,
                    coalesce(newborn.discharge_minutes, setting.one_room_at_most)
                )
        end as leave_minutes,
        coalesce(by_newborn.is_emergency, false) as is_emergency,
        coalesce(by_newborn.has_bands_row, false)
        and (by_newborn.has_check_row or not setting.require_band_check) as is_documented,
        case
            when not by_newborn.is_banded and by_newborn.bands_reason is not null
                then by_newborn.bands_reason
            when not by_newborn.is_checked then by_newborn.check_reason
        end as not_done_reason,
        case
            when not setting.require_band_check then by_newborn.bands_minutes
            when by_newborn.bands_minutes is not null and by_newborn.check_minutes is not null
                then greatest(by_newborn.bands_minutes, by_newborn.check_minutes)
        end as minutes,
    from mart.newborn as newborn
    inner join setting on setting.newborn_id = newborn.newborn_id
    left join by_newborn on by_newborn.newborn_id = newborn.newborn_id
)

select
    newborn_id as newborn_id,
    if(is_emergency, 'emergency_move', null) as exception,
    not_done_reason as not_done_reason,
    is_documented as is_documented,
    minutes is not null and leave_minutes is not null as is_usable,
    minutes as minutes,
    leave_minutes as due_minutes,
    -- Where the minute of leaving is not known, only what held from the start can exclude.
    coalesce(leave_minutes, 1) as closes_minutes,
from pairs
