/*
title       = "A column or a kind of entry went silent"
severity    = "query"
explanation = "What was usually there is almost gone. Probably an item was renamed, an export filter changed, a device no longer feeds it, or a new form came in; less likely the care stopped."
suggestion  = "Compare the item list of the export with the unit file, and ask what changed in the form, the device or the filter. Until it is known, read these months as not documented, not as not done."
sources     = [
    "a fifth of the median share, at least 20 and 3 months: our own; common practice, no published source",
    "chance: Chernoff's bound for a Poisson count (Ann Math Stat 1952;23:493), stricter than the exact tail",
]

[parameters]
below_share_of_usual = 0.2
at_least = 20
months_before = 3
chance = 0.0001

[[examples]]
because = "temperatures stop in June: one flag for June and July, none for the months before"
given.completeness = """
table_name  | kind        | column_name | month      | total | recorded | usable
observation | temperature | kind        | 2025-03-01 | 100   | 98       | 97
observation | temperature | kind        | 2025-04-01 | 100   | 97       | 96
observation | temperature | kind        | 2025-05-01 | 100   | 99       | 98
observation | temperature | kind        | 2025-06-01 | 100   | 2        | 2
observation | temperature | kind        | 2025-07-01 | 100   | 0        | 0
"""
expect = """
table_name  | column_name | explanation
observation | kind        | temperature, June 2025 to July 2025: 2 of 200 newborns have a usable entry; 97 % were usual.
"""

[[examples]]
because = "recorded as before, but none can be used: the flag says so"
given.completeness = """
table_name | kind | column_name | month      | total | recorded | usable
admission  |      | weight_g    | 2025-03-01 | 100   | 100      | 100
admission  |      | weight_g    | 2025-04-01 | 100   | 100      | 99
admission  |      | weight_g    | 2025-05-01 | 100   | 100      | 98
admission  |      | weight_g    | 2025-06-01 | 100   | 100      | 0
"""
expect = """
table_name | column_name | explanation
admission  | weight_g    | weight, June 2025: 0 of 100 newborns have a usable entry; 99 % were usual. It was recorded for 100, but could not be read or believed.
"""

[[examples]]
because = "too few newborns, too short a history, a rare entry, and one not used yet are left alone"
given.completeness = """
table_name | kind         | column_name | month      | total | recorded | usable
care       | bath         | kind        | 2025-03-01 | 19    | 19       | 19
care       | bath         | kind        | 2025-04-01 | 19    | 19       | 19
care       | bath         | kind        | 2025-05-01 | 19    | 19       | 19
care       | bath         | kind        | 2025-06-01 | 19    | 0        | 0
care       | first_feed   | kind        | 2025-04-01 | 100   | 99       | 99
care       | first_feed   | kind        | 2025-05-01 | 100   | 99       | 99
care       | first_feed   | kind        | 2025-06-01 | 100   | 0        | 0
care       | cooling      | kind        | 2025-03-01 | 100   | 2        | 2
care       | cooling      | kind        | 2025-04-01 | 100   | 2        | 2
care       | cooling      | kind        | 2025-05-01 | 100   | 2        | 2
care       | cooling      | kind        | 2025-06-01 | 100   | 0        | 0
care       | first_stool  | kind        | 2025-03-01 | 100   | 0        | 0
care       | first_stool  | kind        | 2025-04-01 | 100   | 0        | 0
care       | first_stool  | kind        | 2025-05-01 | 100   | 0        | 0
care       | first_stool  | kind        | 2025-06-01 | 100   | 0        | 0
"""
expect = """
table_name | column_name
"""

[[examples]]
because = "what is given in its season alone falls silent each spring"
given.completeness = """
table_name | kind         | column_name | month      | total | recorded | usable
dose       | rsv_antibody | kind        | 2025-01-01 | 100   | 88       | 88
dose       | rsv_antibody | kind        | 2025-02-01 | 100   | 87       | 87
dose       | rsv_antibody | kind        | 2025-03-01 | 100   | 89       | 89
dose       | rsv_antibody | kind        | 2025-04-01 | 100   | 0        | 0
"""
expect = """
table_name | column_name
"""

[[examples]]
because = "from a change of policy on, what was usual before does not count"
given.completeness = """
table_name | kind                | column_name | month      | total | recorded | usable
dose       | hepatitis_b_vaccine | kind        | 2025-03-01 | 100   | 98       | 97
dose       | hepatitis_b_vaccine | kind        | 2025-04-01 | 100   | 97       | 96
dose       | hepatitis_b_vaccine | kind        | 2025-05-01 | 100   | 99       | 98
dose       | hepatitis_b_vaccine | kind        | 2025-06-01 | 100   | 3        | 3
"""
given.policy_start = """
name                | start_on
hepatitis_b_vaccine | 2025-06-15
"""
expect = """
table_name | column_name
"""
*/
with silent as (
    select
        history.*,
        -- Consecutive months share a number: one flag for the whole stretch.
        date_diff('month', date '2000-01-01', history.month) - row_number() over (
            partition by history.unit, history.table_name, history.kind, history.column_name
            order by history.month
        ) as stretch,
    from column_history as history
    inner join rule_setting as setting using (unit)
    where
        history.shift = 'all'
        -- Given in its season alone: each spring it falls silent, and nothing is wrong.
        and history.kind is distinct from 'rsv_antibody'
        and history.total >= setting.at_least
        and history.months_before >= setting.months_before
        and history.share < setting.below_share_of_usual * history.usual_share
        -- So few by chance alone? Few were to be expected of a rare entry.
        and exp(
            history.usable - history.usual_share * history.total
            + history.usable * ln(history.usual_share * history.total / greatest(history.usable, 1))
        ) < setting.chance
),

stretched as (
    select
        unit,
        table_name,
        kind,
        column_name,
        -- "weight", "discharge time": the unit is not part of the name.
        trim(replace(
            regexp_replace(regexp_replace(column_name, 'minutes$', 'time'), '_(g|cm|c)$', ''),
            '_',
            ' '
        )) as column_words,
        min(month) as first_month,
        max(month) as last_month,
        sum(total) as total,
        sum(recorded) as recorded,
        sum(usable) as usable,
        arg_min(usual_share, month) as usual_share,
    from silent
    group by unit, table_name, kind, column_name, stretch
)

select
    unit,
    table_name,
    column_name,
    concat(
        case
            when column_name = 'kind' then ''
            when kind is null then column_words
            else column_words || ' of '
        end,
        replace(coalesce(kind, ''), '_', ' '),
        strftime(first_month, ', %B %Y'),
        if(last_month > first_month, strftime(last_month, ' to %B %Y'), ''),
        format(
            ': {} of {} {} have a usable entry; {:.0f} % were usual.',
            usable,
            total,
            if(kind is null or column_name = 'kind', 'newborns', 'entries'),
            100 * usual_share
        ),
        if(
            recorded > usable,
            format(' It was recorded for {}, but could not be read or believed.', recorded),
            ''
        )
    ) as explanation,
from stretched
