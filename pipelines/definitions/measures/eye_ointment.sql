/*
title = "Eye ointment on time"
question = "Was antibiotic ointment put into both eyes soon after birth, where local policy gives it?"
also_called = ["eye prophylaxis", "erythromycin"]
group = "protection"
kind = "proportion"
direction = "higher"
population = "Newborns born alive in, or on the way or brought before 60 minutes of age to, a unit whose policy is to give eye ointment."
numerator = "Antibiotic recorded as given into both eyes inside the window; left and right eye may be recorded apart."
anchor = "birth"
window = { at_least = 0, at_most = 120 }
window_status = "local"
parameters = { policy_given = true, blank_site_is_both_eyes = false }
owner = "born_here_or_arrived"
arrived_before = 60
exceptions = "Declined by the family where the law allows it; contraindicated, such as fused lids; no stock."
missing = "not_met"
sources = [
    "Window of 120 minutes: local decision, no published value for every place",
    "USPSTF, 2019: recommends it for all newborns",
    "CDC, 2021: both eyes, as soon as possible, whatever the mode of birth",
    "Canadian Paediatric Society, 2015, reaffirmed 2024: not routinely recommended",
    "Brought in before 60 minutes: local decision, no published value",
]
disagreement = "Law decides in many places: windows of 1, 2 and 24 hours are in force, West Virginia ended its mandate in 2025, and Canada does not give it routinely. A unit that does not give it sets policy_given to false: every newborn is then excluded as not applicable, never counted as a failure."
documentation_trap = "One eye charted is not both. Ointment that shows only in a supply log is not documented. Where the export has no site, set blank_site_is_both_eyes so that a blank is read as both eyes; without it a blank is unusable, unless a readable dose stands beside it. Another route is not met."
caution = "This screens records. It does not say whether ointment should be given: law and local policy decide, and change."
balancing = ["skin_contact_start"]
look_at = ["eye antibiotic: time, status, reason, both eyes"]
version = "1.1"

[gravity]
level = "serious"
why = "An infection of the eyes in the first days can cost sight."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "minute 120 still counts, minute 121 is late; eyes recorded apart count when the second is done"
given.admission = """
record_id
at120
at121
apart
apart_late
"""
given.dose = """
record_id  | kind           | minutes | status | route      | site
at120      | eye_antibiotic | 120     | given  | ophthalmic | both_eyes
at121      | eye_antibiotic | 121     | given  | ophthalmic | both_eyes
apart      | eye_antibiotic | 60      | given  | ophthalmic | left_eye
apart      | eye_antibiotic | 62      | given  | ophthalmic | right_eye
apart_late | eye_antibiotic | 60      | given  | ophthalmic | right_eye
apart_late | eye_antibiotic | 130     | given  | ophthalmic | left_eye
"""
expect = """
record_id  | state | minutes
at120      | met   | 120
at121      | late  | 121
apart      | met   | 62
apart_late | late  | 130
"""

[[examples]]
because = "one eye or another route is recorded but not met; a blank route, site or time is unusable; a usable dose beside it is taken"
given.admission = """
record_id
no_row
one_eye
muscle
thigh
no_route
no_site
before_birth
no_status
one_and_bad
muscle_blank
mixed
again
"""
given.dose = """
record_id    | kind           | minutes | status | route         | site       | unusable
one_eye      | eye_antibiotic | 60      | given  | ophthalmic    | left_eye   |
muscle       | eye_antibiotic | 60      | given  | intramuscular | both_eyes  |
thigh        | eye_antibiotic | 60      | given  | ophthalmic    | left_thigh |
no_route     | eye_antibiotic | 60      | given  |               | both_eyes  |
no_site      | eye_antibiotic | 60      | given  | ophthalmic    |            |
before_birth | eye_antibiotic |         | given  | ophthalmic    | both_eyes  | minutes
no_status    | eye_antibiotic | 60      |        | ophthalmic    | both_eyes  | status
mixed        | eye_antibiotic |         | given  | ophthalmic    | both_eyes  | minutes
mixed        | eye_antibiotic | 70      | given  | ophthalmic    | both_eyes  |
muscle_blank | eye_antibiotic | 50      | given  | intramuscular |            |
one_and_bad  | eye_antibiotic | 50      | given  | ophthalmic    | left_eye   |
one_and_bad  | eye_antibiotic |         | given  | ophthalmic    | both_eyes  | minutes
again        | eye_antibiotic | 70      | given  | ophthalmic    | both_eyes  |
again        | eye_antibiotic | 150     | given  | ophthalmic    | both_eyes  |
"""
expect = """
record_id    | state          | minutes
no_row       | not_documented |
one_eye      | not_met        |
muscle       | not_met        |
thigh        | not_met        |
no_route     | unusable       |
no_site      | unusable       |
before_birth | unusable       |
no_status    | unusable       |
one_and_bad  | not_met        |
muscle_blank | not_met        |
mixed        | met            | 70
again        | met            | 70
"""

[[examples]]
because = "a refusal removes only a newborn who did not meet the measure in time; reasons off the list are not done"
given.admission = """
record_id
refused
then_given
then_late
no_stock
fused_lids
unstable
later
held_late
no_reason
"""
given.dose = """
record_id  | kind           | minutes | status  | reason          | route      | site
refused    | eye_antibiotic | 30      | refused | declined        |            |
then_given | eye_antibiotic | 30      | refused | declined        |            |
then_given | eye_antibiotic | 100     | given   |                 | ophthalmic | both_eyes
then_late  | eye_antibiotic | 30      | refused | declined        |            |
then_late  | eye_antibiotic | 200     | given   |                 | ophthalmic | both_eyes
no_stock   | eye_antibiotic | 30      | held    | no_stock        |            |
fused_lids | eye_antibiotic | 30      | held    | contraindicated |            |
unstable   | eye_antibiotic | 30      | held    | unstable        |            |
later      | eye_antibiotic | 30      | held    | later           |            |
held_late  | eye_antibiotic | 30      | held    | later           |            |
held_late  | eye_antibiotic | 200     | given   |                 | ophthalmic | both_eyes
no_reason  | eye_antibiotic | 30      | held    |                 |            |
"""
expect = """
record_id  | state     | reason
refused    | exception | declined
then_given | met       |
then_late  | exception | declined
no_stock   | exception | no_stock
fused_lids | exception | contraindicated
unstable   | not_done  | unstable
later      | not_done  | later
held_late  | late      |
no_reason  | not_done  | no reason recorded
"""

[[examples]]
because = "where local policy does not give it, nobody can fail"
policy = { policy_given = false }
given.admission = """
record_id
given
not_given
"""
given.dose = """
record_id | kind           | minutes | status | route      | site
given     | eye_antibiotic | 60      | given  | ophthalmic | both_eyes
"""
expect = """
record_id | state     | reason
given     | exclusion | not applicable by policy
not_given | exclusion | not applicable by policy
"""

[[examples]]
because = "an export without sites may read a blank as both eyes; a masked site stays unusable, one eye stays one eye"
policy = { blank_site_is_both_eyes = true }
given.admission = """
record_id
no_site
bad_site
one_eye
"""
given.dose = """
record_id | kind           | minutes | status | route      | site      | unusable
no_site   | eye_antibiotic | 60      | given  | ophthalmic |           |
bad_site  | eye_antibiotic | 60      | given  | ophthalmic |           | site
one_eye   | eye_antibiotic | 60      | given  | ophthalmic | right_eye |
"""
expect = """
record_id | state
no_site   | met
bad_site  | unusable
one_eye   | not_met
"""

[[examples]]
because = "standard exclusions"
given.admission = """
record_id   | live_birth | birth_place | discharge_minutes | disposition
still       | false      | birth_room  |                   |
died_at_30  | true       | birth_room  | 30                | died
moved_at_40 | true       | birth_room  | 40                | transfer
elsewhere   | true       | other_site  |                   |
comfort     | true       | birth_room  |                   |
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 5       | done
"""
expect = """
record_id   | state
still       | exclusion
died_at_30  | exclusion
moved_at_40 | exception
elsewhere   | exclusion
comfort     | exclusion
"""

[[examples]]
because = "born on the way is owed it here, and so is one brought in before 60 minutes; later, or nobody knows when, it is not"
given.admission = """
record_id   | birth_place    | arrival_minutes
on_the_way  | before_arrival | 20
way_untimed | before_arrival |
early       | other_site     | 59
late        | other_site     | 60
way_late    | before_arrival | 60
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
with given as (
    select
        event.newborn_id as newborn_id,
        event.minutes as minutes,
        event.status as status,
        event.reason as reason,
        event.route as route,
        case
            when
                event.site is null
                and not coalesce(list_contains(event.unusable, 'site'), false)
                and setting.blank_site_is_both_eyes
                then 'both_eyes'
            else event.site
        end as site,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where event.kind = 'eye_antibiotic'
),

doses as (
    select
        newborn_id as newborn_id,
        min(minutes) filter (
            where status = 'given' and route = 'ophthalmic' and site in ('both_eyes', 'left_eye')
        ) as left_minutes,
        min(minutes) filter (
            where status = 'given' and route = 'ophthalmic' and site in ('both_eyes', 'right_eye')
        ) as right_minutes,
        coalesce(bool_or(status = 'given'), false) as is_given,
        -- Enough on the record to say which eyes it reached.
        coalesce(
            bool_or(
                status = 'given'
                and minutes is not null
                and (route <> 'ophthalmic' or (route = 'ophthalmic' and site is not null))
            ),
            false
        ) as is_usable,
        bool_or(status = 'refused' or (status = 'held' and reason = 'declined')) as is_declined,
        min(reason) filter (
            where status = 'held' and reason in ('contraindicated', 'no_stock')
        ) as excepted_reason,
        min(coalesce(reason, 'no reason recorded')) filter (where status = 'held') as held_reason,
    from given
    group by newborn_id
),

both_eyes as (
    select
        *,
        case
            when left_minutes is not null and right_minutes is not null
                then greatest(left_minutes, right_minutes)
        end as given_minutes,
    from doses
)

select
    newborn.newborn_id as newborn_id,
    if(setting.policy_given, null, 'not applicable by policy') as exclusion,
    if(both_eyes.is_declined, 'declined', both_eyes.excepted_reason) as exception,
    if(both_eyes.is_given, null, both_eyes.held_reason) as not_done_reason,
    both_eyes.newborn_id is not null as is_documented,
    coalesce(both_eyes.is_usable, false) as is_usable,
    both_eyes.given_minutes as minutes,
from mart.newborn as newborn
inner join setting on setting.newborn_id = newborn.newborn_id
left join both_eyes on both_eyes.newborn_id = newborn.newborn_id
