/*
title = "Unexpected finding told in time"
question = "Where the nurse found something unexpected, was a provider told in time?"
group = "telling the provider"
kind = "finding"
direction = "higher"
population = "Findings recorded as unexpected that stand on the unit's list of findings to be told, of newborns born alive. The list has three tiers."
numerator = "A provider was told inside the window of the finding's tier: 15 minutes, 60 minutes, or 12 hours."
anchor = "the minute of the finding"
window = { at_least = 0 }
window_status = "local"
parameters = { tier_1_minutes = 15, tier_2_minutes = 60, tier_3_minutes = 720, told_roles = "" }
owner = "present"
going_home = "ends"
exceptions = "None. A finding known before birth with a plan on the chart is left off the record of findings by the unit; the record cannot show such a plan."
missing = "not_met"
sources = [
    "Tiers and their minutes: local decision, no published value; each unit must approve the list before use",
    "StatPearls, Fontanelles: bulging with raised pressure, sunken with loss of fluid",
]
disagreement = "List, tiers and minutes are each unit's own (findings.toml holds a starter list that nobody has approved; a unit overrides it in its file). Some let tier 3 wait until the end of the shift. told_roles may name the roles that count, with commas; blank counts every role."
documentation_trap = "Telling is mostly done by word of mouth and charted late or never. Findings written as free text are not seen here. A person told before the charted minute of the finding counts as told at once."
caution = "This screens records and never judges a finding. The size of a fontanelle alone flags nothing. A miss in tier 1 deserves a look at the record the same day, not at the month's end."
balancing = ["first_examination"]
look_at = ["finding: what was found and when, whom the nurse told and when"]
version = "1.1"

[gravity]
level = "serious"
why = "What nobody was told of nobody acts on."

[gravity.grades."tier 1"]
level = "sentinel"
why = "By the unit's list a finding of the first tier is told at once; on this record nobody was told."
states.not_documented = "sentinel"
states.late = { level = "serious", why = "By the unit's list a finding of the first tier is told at once; this one was told, but late." }

[gravity.grades."tier 3"]
level = "process"
why = "A finding of the third tier can wait for the end of the shift."

[[history]]
version = "1.0"
on = 2026-11-25
what = "first version"

[[history]]
version = "1.1"
on = 2026-11-30
what = "whose event it is follows the newborn's way: born on the way, brought in, moved, gone home"

[[examples]]
because = "each tier has its own last minute: 15 and 16, 60 and 61, 720 and 721 minutes after the finding"
given.admission = """
record_id
tier1
tier1_late
tier2
tier2_late
tier3
tier3_late
"""
given.finding = """
record_id  | kind                | minutes | as_expected | detail   | told_role     | told_minutes
tier1      | anterior_fontanelle | 30      | false       | bulging  | paediatrician | 45
tier1_late | anterior_fontanelle | 30      | false       | Bulging  | paediatrician | 46
tier2      | anus                | 30      | false       | not seen | paediatrician | 90
tier2_late | palate              | 30      | false       | cleft    | paediatrician | 91
tier3      | sacrum              | 30      | false       | tuft     | midwife       | 750
tier3_late | palm_crease         | 30      | false       |          | midwife       | 751
"""
expect = """
record_id  | item | state | minutes
tier1      | 1    | met   | 15
tier1_late | 1    | late  | 16
tier2      | 1    | met   | 60
tier2_late | 1    | late  | 61
tier3      | 1    | met   | 720
tier3_late | 1    | late  | 721
"""

[[examples]]
because = "size alone, an expected finding, one not on the list and one nobody could read start nothing; each listed finding is a row of its own"
given.admission = """
record_id
large
expected
unlisted
unread
several
"""
given.finding = """
record_id | kind                | minutes | as_expected | detail   | told_minutes | unusable
large     | anterior_fontanelle | 30      | false       | large    |              |
expected  | sacrum              | 30      | true        |          |              |
unlisted  | hips                | 30      | false       | clunk    |              |
unread    | sacrum              | 30      |             |          |              | as_expected
several   | anterior_fontanelle | 30      | false       | sunken   | 60           |
several   | grunting            | 10      | false       |          | 12           |
several   | sacrum              | 40      | false       |          |              |
"""
expect = """
record_id | item | state          | minutes
several   | 1    | met            | 2
several   | 2    | met            | 30
several   | 3    | not_documented |
"""

[[examples]]
because = "nobody named is not documented; a role or a finding without its time is unusable; told before the charted minute counts at once"
given.admission = """
record_id
nobody
no_time
no_start
masked
before
"""
given.finding = """
record_id | kind     | minutes | as_expected | told_role     | told_minutes | unusable
nobody    | grunting | 30      | false       |               |              |
no_time   | grunting | 30      | false       | paediatrician |              |
no_start  | grunting |         | false       | paediatrician | 40           |
masked    | grunting | 30      | false       |               |              | told_minutes
before    | grunting | 30      | false       | paediatrician | 25           |
"""
expect = """
record_id | item | state          | minutes
nobody    | 1    | not_documented |
no_time   | 1    | unusable       |
no_start  | 1    | unusable       |
masked    | 1    | unusable       |
before    | 1    | met            | 0
"""

[[examples]]
because = "a stillborn's findings and those under a comfort-care plan are set apart; leaving later changes nothing"
given.admission = """
record_id | live_birth | discharge_minutes | disposition
still     | false      |                   |
comfort   | true       |                   |
moved     | true       | 35                | transfer
"""
given.care = """
record_id | kind         | minutes | status
comfort   | comfort_care | 20      | done
"""
given.finding = """
record_id | kind     | minutes | as_expected | told_role     | told_minutes
still     | grunting | 1       | false       |               |
comfort   | grunting | 30      | false       |               |
moved     | grunting | 30      | false       |               |
"""
expect = """
record_id | item | state
still     | 1    | exclusion
comfort   | 1    | exclusion
moved     | 1    | exception
"""

[[examples]]
because = "a unit may count named roles alone, and may set its own minutes"
policy = { told_roles = "paediatrician, nurse practitioner", tier_1_minutes = 5 }
given.admission = """
record_id
at5
at6
other_role
no_role
"""
given.finding = """
record_id  | kind     | minutes | as_expected | told_role          | told_minutes
at5        | grunting | 30      | false       | Nurse Practitioner | 35
at6        | grunting | 30      | false       | paediatrician      | 36
other_role | grunting | 30      | false       | ward clerk         | 32
no_role    | grunting | 30      | false       |                    | 32
"""
expect = """
record_id  | item | state
at5        | 1    | met
at6        | 1    | late
other_role | 1    | not_met
no_role    | 1    | not_met
"""

[[examples]]
because = "gone home or moved before somebody had to be told is an exception; told before, it is met"
given.admission = """
record_id | discharge_minutes | disposition
home      | 110               | home
home_told | 110               | home
moved     |                   |
"""
given.care = """
record_id | kind     | minutes | status
moved     | transfer | 110     | done
"""
given.finding = """
record_id | kind             | minutes | as_expected | detail | told_role | told_minutes
home      | central_cyanosis | 100     | false       |        |           |
home_told | central_cyanosis | 100     | false       |        | physician | 105
moved     | central_cyanosis | 100     | false       |        |           |
"""
expect = """
record_id | item | state     | reason
home      | 1    | exception | went home before the window closed
home_told | 1    | met       |
moved     | 1    | exception | moved before the window closed
"""
*/
with listed as (
    select
        event.newborn_id as newborn_id,
        row_number() over (
            partition by event.newborn_id
            -- By what was charted, so that the order of the lines in a file changes nothing.
            order by
                event.minutes nulls last, event.kind, event.detail, event.told_minutes,
                event.told_role, event.unusable::varchar
        ) as item,
        event.minutes as found_minutes,
        event.told_minutes as told_minutes,
        event.told_role is not null
        or event.told_minutes is not null
        or list_has_any(coalesce(event.unusable, []), ['told_minutes', 'told_role']) as is_told,
        setting.told_roles = ''
        or list_contains(
            list_transform(string_split(lower(setting.told_roles), ','), lambda role: trim(role)),
            coalesce(lower(trim(event.told_role)), '')
        ) as is_right_role,
        case event.tier
            when 1 then setting.tier_1_minutes
            when 2 then setting.tier_2_minutes
            else setting.tier_3_minutes
        end as due_minutes,
        event.tier as tier,
        concat_ws(', ', replace(event.kind, '_', ' '), event.detail) as detail,
    from mart.event as event
    inner join setting on setting.newborn_id = event.newborn_id
    where event.table_name = 'finding' and event.tier is not null
)

select
    newborn_id as newborn_id,
    item as item,
    is_told as is_documented,
    found_minutes is not null and told_minutes is not null as is_usable,
    case
        when not is_right_role then null
        when told_minutes < found_minutes then 0
        else told_minutes - found_minutes
    end as minutes,
    due_minutes as due_minutes,
    found_minutes + due_minutes as closes_minutes,
    told_minutes as judged_minutes,
    'tier ' || tier as grade,
    detail as detail,
from listed
