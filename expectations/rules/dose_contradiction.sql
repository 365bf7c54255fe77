/*
title       = "A dose twice, or given and declined"
table       = "dose"
severity    = "query"
explanation = "The same medicine is recorded as given before. It was charted twice, stands on the wrong record, or was given twice: look it up now, for it may have to be reported."
sources     = ["one dose after birth of eye antibiotic, vitamin K into a muscle, vaccine and globulin: common practice; the second vaccine is due at one to two months (World Health Organization and others, from memory)", "how many days and minutes apart: our own limits, common practice, no published source", "globulin is for newborns of mothers who are positive or whose status is not known (published recommendations of the United States, 2018, from memory)"]
# Vitamin K by mouth is given several times and is left out.
# A query, not an error: if it truly happened, the record is right and must stay.

[parameters]
twice_within_days        = 21
contrary_within_minutes  = 5

[[examples]]
because = "two doses of one vaccine, ten minutes and ten days apart; the later is asked for"
given.dose = """
record_id | kind                | status | route         | minutes
minutes   | hepatitis_b_vaccine | given  | intramuscular | 300
minutes   | hepatitis_b_vaccine | given  | intramuscular | 310
days      | vitamin_k           | given  | intramuscular | 90
days      | vitamin_k           | given  | intramuscular | 14490
no_time   | vitamin_k           | given  | intramuscular | 90
no_time   | vitamin_k           | given  | intramuscular |
"""
expect = """
record_id | column_name | severity
minutes   | minutes     | query
days      | minutes     | query
no_time   | status      | query
"""

[[examples]]
because = "declined and given, or held and given, within minutes"
given.dose = """
record_id | kind      | status  | minutes
declined  | vitamin_k | refused | 90
declined  | vitamin_k | given   | 91
held      | vitamin_k | given   | 90
held      | vitamin_k | held    | 90
"""
expect = """
record_id | column_name | severity | explanation
declined  | status      | query    | Recorded as given and as not given within 5 minutes. Only one can be true: check both entries.
held      | status      | query    | Recorded as given and as not given within 5 minutes. Only one can be true: check both entries.
"""

[[examples]]
because = "21 days apart is twice, a minute more is the next dose; 5 minutes apart is contrary, 6 are a change of mind"
given.dose = """
record_id | kind                | status  | route         | minutes
days21    | hepatitis_b_vaccine | given   | intramuscular | 300
days21    | hepatitis_b_vaccine | given   | intramuscular | 30540
later     | hepatitis_b_vaccine | given   | intramuscular | 300
later     | hepatitis_b_vaccine | given   | intramuscular | 30541
five      | vitamin_k           | refused |               | 90
five      | vitamin_k           | given   | intramuscular | 95
six       | vitamin_k           | refused |               | 90
six       | vitamin_k           | given   | intramuscular | 96
"""
expect = """
record_id | column_name | severity
days21    | minutes     | query
five      | status      | query
"""

[[examples]]
because = "given, with a reason why not"
given.dose = """
record_id | kind      | status | reason   | minutes
both      | vitamin_k | given  | declined | 90
"""
expect = """
record_id | column_name | severity | explanation
both      | reason      | query    | Recorded as given, with a reason why it was not given. Only one can be true: check the entry.
"""

[[examples]]
because = "globulin, though the mother is negative and was known to be"
given.admission = """
record_id | maternal_hepatitis_b | maternal_hepatitis_b_minutes
known     | negative             |
before    | negative             | -600
"""
given.dose = """
record_id | kind                        | status | minutes
known     | hepatitis_b_immune_globulin | given  | 300
before    | hepatitis_b_immune_globulin | given  | 300
"""
expect = """
record_id | column_name | severity | explanation
known     | kind        | query    | Globulin was given, though the mother's status is recorded as negative. It may be another medicine on the wrong line, or the mother's status is not up to date: look up both now.
before    | kind        | query    | Globulin was given, though the mother's status is recorded as negative. It may be another medicine on the wrong line, or the mother's status is not up to date: look up both now.
"""

[[examples]]
because = "one dose, the next vaccine a month later, a family that changed its mind, drops by mouth, one eye after the other, and globulin before the status was known are left alone"
given.admission = """
record_id | maternal_hepatitis_b | maternal_hepatitis_b_minutes
later     | negative             | 500
positive  | positive             |
"""
given.dose = """
record_id | kind                        | status  | route      | site      | minutes
one       | vitamin_k                   | given   |            |           | 90
month     | hepatitis_b_vaccine         | given   |            |           | 600
month     | hepatitis_b_vaccine         | given   |            |           | 43800
mind      | vitamin_k                   | refused |            |           | 90
mind      | vitamin_k                   | given   |            |           | 200
mouth     | vitamin_k                   | given   | oral       |           | 90
mouth     | vitamin_k                   | given   | oral       |           | 5760
eyes      | eye_antibiotic              | given   | ophthalmic | left_eye  | 60
eyes      | eye_antibiotic              | given   | ophthalmic | right_eye | 61
later     | hepatitis_b_immune_globulin | given   |            |           | 300
positive  | hepatitis_b_immune_globulin | given   |            |           | 300
"""
expect = """
record_id | column_name
"""
*/
with dose as (
    select
        dose.*,
        setting.twice_within_days,
        setting.contrary_within_minutes,
    from typed.dose as dose
    inner join rule_setting as setting using (unit)
),

in_order as (
    select
        row_id,
        minutes,
        twice_within_days,
        row_number() over doses as place,
        lag(minutes) over doses as before_minutes,
    from dose
    where status = 'given' and coalesce(route, '') <> 'oral'
    window doses as (
        -- One eye after the other is one dose.
        partition by newborn_id, kind, if(site in ('left_eye', 'right_eye'), site, '')
        order by minutes nulls last, row_id
    )
),

contrary as (
    select
        given.row_id,
        other.row_id as other_row_id,
        given.contrary_within_minutes,
    from dose as given
    inner join dose as other
        on other.newborn_id = given.newborn_id
        and other.kind = given.kind
        and abs(other.minutes - given.minutes) <= given.contrary_within_minutes
    where given.status = 'given' and other.status in ('refused', 'held')
)

select
    row_id,
    if(minutes is null, 'status', 'minutes') as column_name,
    null as explanation,
from in_order
where
    place > 1
    and coalesce(minutes - before_minutes <= twice_within_days * 1440, true)
union all
select
    unnest([row_id, other_row_id]) as row_id,
    'status' as column_name,
    format(
        'Recorded as given and as not given within {:.0f} minutes. Only one can be true: check '
            || 'both entries.',
        contrary_within_minutes
    ) as explanation,
from contrary
union all
select
    row_id,
    'reason' as column_name,
    'Recorded as given, with a reason why it was not given. Only one can be true: check the entry.'
        as explanation,
from dose
where status = 'given' and reason is not null
union all
select
    dose.row_id,
    'kind' as column_name,
    'Globulin was given, though the mother''s status is recorded as negative. It may be another '
        || 'medicine on the wrong line, or the mother''s status is not up to date: look up both now.'
        as explanation,
from dose
inner join typed.admission as newborn using (newborn_id)
where
    dose.kind = 'hepatitis_b_immune_globulin'
    and dose.status = 'given'
    and newborn.maternal_hepatitis_b = 'negative'
    and coalesce(newborn.maternal_hepatitis_b_minutes <= dose.minutes, true)
