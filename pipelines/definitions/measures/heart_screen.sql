/*
title = "Pulse-oximetry heart screen"
question = "Was the heart screen done with both saturations and a result, after the first day and before going home?"
also_called = ["pulse oximetry", "congenital heart disease"]
group = "screening"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in the unit or on the way to it, or brought to it before 24 hours of age, who were still there 24 hours after birth."
numerator = "A saturation of the right hand and one of a foot, taken within a time of each other that makes them one screen, and a result; both from 24 hours on and before the newborn left; in a longer stay within 7 days."
anchor = "birth"
window = { at_least = 1440, at_most = 10080 }
window_status = "published in part"
parameters = { require_result = true, day_stay_minutes = 1440, pair_within_minutes = 60, repeat_below_percent = 95, fails_below_percent = 90, differs_most_percent = 3 }
follows = { day_stay_minutes = "first_examination" }
owner = "born_here_or_arrived"
arrived_before = 1440
exceptions = "Declined by the family."
missing = "not_met"
sources = [
    "AHA and AAP, Pediatrics, 2009: most useful after 24 hours",
    "AAP, 2024: a newer algorithm exists",
    "Values that cannot have passed (a reading below 90 %, both below 95 %, more than 3 apart): the algorithms of 2011 and 2025 as taught in Pedianotes and the Family Practice Notebook, the papers from memory; what either would pass passes here",
    "Hand and foot within 60 minutes, 7 days in a longer stay: local decision, no published value",
    "Brought in before 24 hours: local decision, no published value",
]
disagreement = "The older and the newer algorithm differ in limits and number of repeats, which are not judged here; neither is altitude: a unit high above the sea sets its own percentages. Some sites screen before 24 hours when a newborn goes home early; such a newborn is not in this population."
documentation_trap = "A result charted as passed without numbers lacks both saturations. A hand and a foot of different hours are two halves of two screens: not met. A result as expected beside no pair that could have passed is unusable: one of them is wrong. Known heart disease, an echocardiogram done before, or oxygen given are set apart only where the screen is recorded as not done because not indicated. The result is the examination item heart_screen; a unit that charts none sets require_result to false."
caution = "This screens records. A pass does not rule out heart disease. Oximeters read high on darker skin: read the results by group. Local policy decides about repeats."
balancing = ["first_examination"]
look_at = ["oxygen saturation: time, value, site", "heart screen: status, reason"]
version = "1.1"

[gravity]
level = "serious"
why = "A heart defect that the screen would have shown may show first at home."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "hand and foot belong to one screen only within a time; a result as expected beside values that cannot have passed is unusable; whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 1440 counts, 1439 does not, even beside one in time; the minute of leaving still counts, the next is late; else the later of hand and foot decides"
given.admission = """
record_id | discharge_minutes | disposition
at1440    | 3000              | home
at1439    | 3000              | home
one_early | 3000              | home
repeated  | 3000              | home
leaving   | 3000              | home
after     | 3000              | home
in_unit   |                   | in_unit
day8      |                   | in_unit
"""
given.observation = """
record_id | kind              | minutes | value | site
at1440    | oxygen_saturation | 1440    | 98    | right_hand
at1440    | oxygen_saturation | 1442    | 98    | foot
at1439    | oxygen_saturation | 1439    | 98    | right_hand
at1439    | oxygen_saturation | 1439    | 98    | foot
one_early | oxygen_saturation | 1439    | 98    | right_hand
one_early | oxygen_saturation | 1441    | 98    | foot
repeated  | oxygen_saturation | 600     | 98    | right_hand
repeated  | oxygen_saturation | 601     | 98    | foot
repeated  | oxygen_saturation | 1500    | 98    | right_hand
repeated  | oxygen_saturation | 1502    | 98    | foot
leaving   | oxygen_saturation | 2999    | 98    | right_hand
leaving   | oxygen_saturation | 3000    | 98    | foot
after     | oxygen_saturation | 2999    | 98    | right_hand
after     | oxygen_saturation | 3001    | 98    | foot
in_unit   | oxygen_saturation | 10080   | 98    | right_hand
in_unit   | oxygen_saturation | 10080   | 98    | foot
day8      | oxygen_saturation | 10080   | 98    | right_hand
day8      | oxygen_saturation | 10081   | 98    | foot
"""
given.finding = """
record_id | kind         | minutes | as_expected
at1440    | heart_screen | 1443    | true
at1439    | heart_screen | 1443    | true
one_early | heart_screen | 1443    | true
repeated  | heart_screen | 1503    | false
leaving   | heart_screen | 3000    | true
after     | heart_screen | 3000    | true
in_unit   | heart_screen | 10080   | true
day8      | heart_screen | 10080   | true
"""
expect = """
record_id | state   | minutes
at1440    | met     | 1442
at1439    | not_met | 1439
one_early | not_met | 1439
repeated  | met     | 1502
leaving   | met     | 3000
after     | late    | 3001
in_unit   | met     | 10080
day8      | late    | 10081
"""

[[examples]]
because = "60 minutes apart are one screen, 61 are not; the first whole screen from 24 hours on is taken; a masked half that may complete one is unusable"
given.admission = """
record_id
apart60
apart61
second
masked_half
masked_far
"""
given.observation = """
record_id   | kind              | minutes | value | site       | unusable
apart60     | oxygen_saturation | 1500    | 98    | right_hand |
apart60     | oxygen_saturation | 1560    | 98    | foot       |
apart61     | oxygen_saturation | 1500    | 98    | right_hand |
apart61     | oxygen_saturation | 1561    | 98    | foot       |
second      | oxygen_saturation | 1500    | 98    | right_hand |
second      | oxygen_saturation | 2000    | 98    | foot       |
second      | oxygen_saturation | 2001    | 98    | right_hand |
masked_half | oxygen_saturation | 1500    | 98    | right_hand |
masked_half | oxygen_saturation | 1502    |       | foot       | value
masked_half | oxygen_saturation | 4000    | 98    | foot       |
masked_far  | oxygen_saturation | 1500    | 98    | right_hand |
masked_far  | oxygen_saturation | 2500    |       | foot       | value
masked_far  | oxygen_saturation | 4000    | 98    | foot       |
"""
given.finding = """
record_id   | kind         | minutes | as_expected
apart60     | heart_screen | 1600    | true
apart61     | heart_screen | 1600    | true
second      | heart_screen | 2002    | true
masked_half | heart_screen | 1503    | true
masked_far  | heart_screen | 1503    | true
"""
expect = """
record_id   | state    | minutes
apart60     | met      | 1560
apart61     | not_met  |
second      | met      | 2001
masked_half | unusable |
masked_far  | not_met  |
"""

[[examples]]
because = "as expected beside values that cannot have passed is unusable; not as expected may stand beside any; a repeat that could pass is believed"
given.admission = """
record_id
below_90
both_94
one_95
apart_3
apart_4
referred
repeated
"""
given.observation = """
record_id | kind              | minutes | value | site
below_90  | oxygen_saturation | 1500    | 89    | right_hand
below_90  | oxygen_saturation | 1502    | 98    | foot
both_94   | oxygen_saturation | 1500    | 94    | right_hand
both_94   | oxygen_saturation | 1502    | 94    | foot
one_95    | oxygen_saturation | 1500    | 94    | right_hand
one_95    | oxygen_saturation | 1502    | 95    | foot
apart_3   | oxygen_saturation | 1500    | 99    | right_hand
apart_3   | oxygen_saturation | 1502    | 96    | foot
apart_4   | oxygen_saturation | 1500    | 99    | right_hand
apart_4   | oxygen_saturation | 1502    | 95    | foot
referred  | oxygen_saturation | 1500    | 88    | right_hand
referred  | oxygen_saturation | 1502    | 86    | foot
repeated  | oxygen_saturation | 1500    | 94    | right_hand
repeated  | oxygen_saturation | 1502    | 93    | foot
repeated  | oxygen_saturation | 1562    | 97    | right_hand
repeated  | oxygen_saturation | 1563    | 96    | foot
"""
given.finding = """
record_id | kind         | minutes | as_expected
below_90  | heart_screen | 1503    | true
both_94   | heart_screen | 1503    | true
one_95    | heart_screen | 1503    | true
apart_3   | heart_screen | 1503    | true
apart_4   | heart_screen | 1503    | true
referred  | heart_screen | 1503    | false
repeated  | heart_screen | 1564    | true
"""
expect = """
record_id | state    | minutes
below_90  | unusable | 1502
both_94   | unusable | 1502
one_95    | met      | 1502
apart_3   | met      | 1502
apart_4   | unusable | 1502
referred  | met      | 1502
repeated  | met      | 1502
"""

[[examples]]
because = "a missing hand, foot or result is not documented; a masked one is unusable; a usable one beside it is taken"
given.admission = """
record_id
no_row
no_foot
no_result
no_site
bad_hand
bad_time
bad_result
mixed
"""
given.observation = """
record_id  | kind              | minutes | value | site       | unusable
no_foot    | oxygen_saturation | 1500    | 98    | right_hand |
no_result  | oxygen_saturation | 1500    | 98    | right_hand |
no_result  | oxygen_saturation | 1502    | 98    | foot       |
no_site    | oxygen_saturation | 1500    | 98    |            |
no_site    | oxygen_saturation | 1502    | 98    | foot       |
bad_hand   | oxygen_saturation | 1500    |       | right_hand | value
bad_hand   | oxygen_saturation | 1502    | 98    | foot       |
bad_time   | oxygen_saturation |         | 98    | right_hand | minutes
bad_time   | oxygen_saturation | 1502    | 98    | foot       |
bad_result | oxygen_saturation | 1500    | 98    | right_hand |
bad_result | oxygen_saturation | 1502    | 98    | foot       |
mixed      | oxygen_saturation | 1500    |       | right_hand | value
mixed      | oxygen_saturation | 1501    | 98    | right_hand |
mixed      | oxygen_saturation | 1502    | 98    | foot       |
"""
given.finding = """
record_id  | kind         | minutes | as_expected | unusable
no_foot    | heart_screen | 1503    | true        |
no_site    | heart_screen | 1503    | true        |
bad_hand   | heart_screen | 1503    | true        |
bad_time   | heart_screen | 1503    | true        |
bad_result | heart_screen | 1503    |             | as_expected
mixed      | heart_screen | 1503    | true        |
"""
expect = """
record_id  | state          | minutes
no_row     | not_documented |
no_foot    | not_documented |
no_result  | not_documented | 1502
no_site    | not_documented |
bad_hand   | unusable       |
bad_time   | unusable       |
bad_result | unusable       | 1502
mixed      | met            | 1502
"""

[[examples]]
because = "declined is an exception unless done in time; not indicated sets apart; another reason is not done"
given.admission = """
record_id
declined
then_done
not_needed
no_reason
"""
given.care = """
record_id  | kind         | minutes | status   | reason
declined   | heart_screen | 1500    | not_done | declined
then_done  | heart_screen | 1500    | not_done | declined
not_needed | heart_screen |         | not_done | not_indicated
no_reason  | heart_screen |         | not_done |
"""
given.observation = """
record_id | kind              | minutes | value | site
then_done | oxygen_saturation | 1600    | 98    | right_hand
then_done | oxygen_saturation | 1602    | 98    | foot
"""
given.finding = """
record_id | kind         | minutes | as_expected
then_done | heart_screen | 1603    | true
"""
expect = """
record_id  | state     | reason
declined   | exception | declined
then_done  | met       |
not_needed | exclusion | not indicated
no_reason  | not_done  | no reason recorded
"""

[[examples]]
because = "gone before 24 hours, and the standard exclusions; moved later without a screen is not excluded"
given.admission = """
record_id     | live_birth | birth_place | discharge_minutes | disposition
home_at_1439  | true       | birth_room  | 1439              | home
home_at_1440  | true       | birth_room  | 1440              | home
still         | false      | birth_room  |                   |
died_at_900   | true       | birth_room  | 900               | died
moved_at_900  | true       | birth_room  | 900               | transfer
moved_at_1440 | true       | birth_room  | 1440              | transfer
elsewhere     | true       | other_site  |                   |
comfort       | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id     | state          | reason
home_at_1439  | exclusion      | stayed less than 24 hours
home_at_1440  | not_documented |
still         | exclusion      | stillborn
died_at_900   | exclusion      | died before the window closed
moved_at_900  | exception      | moved before the window closed
moved_at_1440 | exception      | moved before the window closed
elsewhere     | exclusion      | arrival not known
comfort       | exclusion      | comfort care before the window closed
"""

[[examples]]
because = "a unit that charts no result asks for the saturations alone"
policy = { require_result = false }
given.admission = """
record_id
both
"""
given.observation = """
record_id | kind              | minutes | value | site
both      | oxygen_saturation | 1500    | 98    | right_hand
both      | oxygen_saturation | 1502    | 98    | foot
"""
expect = """
record_id | state
both      | met
"""

[[examples]]
because = "born on the way is owed it here, and so is one brought in before 24 hours; later, or nobody knows when, it is not"
given.admission = """
record_id   | birth_place    | arrival_minutes
on_the_way  | before_arrival | 20
way_untimed | before_arrival |
early       | other_site     | 1439
late        | other_site     | 1440
way_late    | before_arrival | 1440
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
with saturations as (
    select
        newborn_id as newborn_id,
        site as site,
        minutes as minutes,
        value as value,
        is_usable as is_usable,
    from mart.event
    where kind = 'oxygen_saturation' and site in ('right_hand', 'foot')
),

recorded as (
    select
        newborn_id as newborn_id,
        count(distinct site) = 2 as has_both,
        count(distinct if(is_usable, site, null)) = 2 as has_both_usable,
    from saturations
    group by newborn_id
),

-- Hand and foot of one screen, and those that may be: of a masked one the time may be known.
pairs as (
    select
        hand.newborn_id as newborn_id,
        hand.is_usable and foot.is_usable as is_usable,
        -- One taken too early decides; else the later of the two.
        if(
            least(hand.minutes, foot.minutes) < setting.at_least,
            least(hand.minutes, foot.minutes),
            greatest(hand.minutes, foot.minutes)
        ) as minutes,
        least(hand.value, foot.value) >= setting.fails_below_percent
        and greatest(hand.value, foot.value) >= setting.repeat_below_percent
        and abs(hand.value - foot.value) <= setting.differs_most_percent as could_pass,
    from saturations as hand
    inner join saturations as foot on foot.newborn_id = hand.newborn_id and foot.site = 'foot'
    inner join setting on setting.newborn_id = hand.newborn_id
    where
        hand.site = 'right_hand'
        and coalesce(abs(hand.minutes - foot.minutes) <= setting.pair_within_minutes, true)
),

screens as (
    select
        pairs.newborn_id as newborn_id,
        -- The first one from 24 hours on, else the last one before.
        coalesce(
            min(pairs.minutes) filter (
                where pairs.is_usable and pairs.minutes >= setting.at_least
            ),
            max(pairs.minutes) filter (where pairs.is_usable)
        ) as screened_minutes,
        coalesce(bool_or(pairs.could_pass) filter (where pairs.is_usable), true) as could_pass,
    from pairs
    inner join setting on setting.newborn_id = pairs.newborn_id
    group by pairs.newborn_id
),

results as (
    select
        newborn_id as newborn_id,
        bool_or(as_expected is not null) as is_usable,
        coalesce(bool_and(as_expected), false) as is_passed,
    from mart.event
    where
        table_name = 'finding'
        and kind = 'heart_screen'
        and (
            as_expected is not null or coalesce(list_contains(unusable, 'as_expected'), false)
        )
    group by newborn_id
),

offers as (
    select
        newborn_id as newborn_id,
        coalesce(bool_or(reason = 'declined'), false) as is_declined,
        coalesce(bool_or(reason = 'not_indicated'), false) as is_not_indicated,
        min(coalesce(reason, 'no reason recorded')) as not_done_reason,
    from mart.event
    where table_name = 'care' and kind = 'heart_screen' and status = 'not_done'
    group by newborn_id
)

select
    newborn.newborn_id as newborn_id,
    case
        when way.home_minutes < setting.day_stay_minutes then 'stayed less than 24 hours'
        when offers.is_not_indicated then 'not indicated'
    end as exclusion,
    if(offers.is_declined, 'declined', null) as exception,
    if(recorded.newborn_id is null, offers.not_done_reason, null) as not_done_reason,
    coalesce(recorded.has_both, false)
    and (results.newborn_id is not null or not setting.require_result) as is_documented,
    coalesce(recorded.has_both_usable, false)
    -- Two halves that nobody can call one screen are no screen; a masked half may be one.
    and (screens.newborn_id is null or screens.screened_minutes is not null)
    and (
        not setting.require_result
        or coalesce(
            results.is_usable and not (results.is_passed and not coalesce(screens.could_pass, true)),
            false
        )
    ) as is_usable,
    screens.screened_minutes as minutes,
    -- Owed before going home; a move ends it only while it could still be done.
    least(setting.at_most, coalesce(way.home_minutes, setting.at_most)) as due_minutes,
    setting.at_most as closes_minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join recorded on recorded.newborn_id = newborn.newborn_id
left join screens on screens.newborn_id = newborn.newborn_id
left join results on results.newborn_id = newborn.newborn_id
left join offers on offers.newborn_id = newborn.newborn_id
inner join mart.way as way on way.newborn_id = newborn.newborn_id
