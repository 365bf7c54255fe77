/*
title       = "The births of a month break from the months before"
severity    = "query"
explanation = "There are more or fewer newborns in the export than chance explains. Probably a part of the month, a room or a site is missing or was exported twice; or births did move to or from the unit."
suggestion  = "Compare the number of births with the birth register of the unit for these months before reading any other figure of them."
tables      = ["admission"]
sources     = [
    "two-sided exact Poisson probability against the median of up to 12 months before; 1 in 10,000: our own, no published source",
]

[parameters]
months_before = 3
chance = 0.0001

[[examples]]
because = "half of June is missing; the last month is low too, but an export often ends within a month"
given.completeness = """
table_name | column_name | month      | newborns
admission  | sex         | 2025-01-01 | 100
admission  | sex         | 2025-02-01 | 96
admission  | sex         | 2025-03-01 | 104
admission  | sex         | 2025-04-01 | 99
admission  | sex         | 2025-05-01 | 101
admission  | sex         | 2025-06-01 | 51
admission  | sex         | 2025-07-01 | 103
admission  | sex         | 2025-08-01 | 20
"""
expect = """
table_name | column_name | severity | explanation
admission  | birth_month | query    | June 2025: 51 newborns, where about 100 a month were usual.
admission  | birth_month | note     | August 2025: 20 newborns, where about 100 a month were usual. It is the last month of the export, which may end within it.
"""

[[examples]]
because = "a month with nobody is a break, and so is a month exported twice"
given.completeness = """
table_name | column_name | month      | newborns
admission  | sex         | 2025-01-01 | 40
admission  | sex         | 2025-02-01 | 42
admission  | sex         | 2025-03-01 | 38
admission  | sex         | 2025-05-01 | 40
admission  | sex         | 2025-06-01 | 82
admission  | sex         | 2025-07-01 | 40
"""
expect = """
table_name | column_name | severity | explanation
admission  | birth_month | query    | April 2025: 0 newborns, where about 40 a month were usual.
admission  | birth_month | query    | June 2025: 82 newborns, where about 40 a month were usual.
"""

[[examples]]
because = "the first month has none before: it is held against those after, and only noted"
given.completeness = """
table_name | column_name | month      | newborns
admission  | sex         | 2025-01-01 | 30
admission  | sex         | 2025-02-01 | 100
admission  | sex         | 2025-03-01 | 95
admission  | sex         | 2025-04-01 | 105
admission  | sex         | 2025-05-01 | 99
"""
expect = """
table_name | column_name | severity | explanation
admission  | birth_month | note     | January 2025: 30 newborns, where about 100 a month were usual. It is the first month of the export, which may begin within it.
"""

[[examples]]
because = "what chance explains is left alone"
given.completeness = """
table_name | column_name | month      | newborns
admission  | sex         | 2025-01-01 | 100
admission  | sex         | 2025-02-01 | 120
admission  | sex         | 2025-03-01 | 90
admission  | sex         | 2025-04-01 | 125
admission  | sex         | 2025-05-01 | 75
admission  | sex         | 2025-06-01 | 100
"""
expect = """
table_name | column_name
"""
*/
with span as (
    select
        unit,
        unnest(generate_series(min(month), max(month), interval 1 month))::date as month,
    from judged.completeness
    group by unit
),

counted as (
    select
        span.unit,
        span.month,
        coalesce(any_value(known.newborns), 0) as newborns,
    from span
    left join judged.completeness as known
        on span.unit = known.unit and span.month = known.month and known.shift = 'all'
    group by span.unit, span.month
),

compared as (
    select
        *,
        month = min(month) over (partition by unit) as is_first,
        month = max(month) over (partition by unit) as is_last,
        -- The first month has none before it; those after must do.
        if(
            count(*) over before = 0,
            median(newborns) over after,
            median(newborns) over before
        ) as usual,
        if(count(*) over before = 0, count(*) over after, count(*) over before) as months,
    from counted
    window
        before as (
            partition by unit order by month rows between 12 preceding and 1 preceding
        ),
        after as (
            partition by unit order by month rows between 1 following and 12 following
        )
),

-- Exact: the sum of the Poisson probabilities up to and including the count, and below it.
weighed as (
    select
        compared.*,
        list_sum(
            list_transform(
                range(0, newborns + 1),
                lambda births : exp(births * ln(usual) - usual - lgamma(births + 1))
            )
        ) as up_to,
        exp(newborns * ln(usual) - usual - lgamma(newborns + 1)) as exactly,
        setting.chance,
    from compared
    inner join rule_setting as setting using (unit)
    where compared.months >= setting.months_before and usual > 0
),

broken as (
    select
        *,
        (is_first or is_last) and newborns < usual as is_edge,
        newborns < usual as is_low,
    from weighed
    where
        2 * if(newborns < usual, up_to, 1 - up_to + exactly) < chance
        -- Too many in the first month say nothing against the first month alone.
        and not (is_first and newborns > usual)
),

stretched as (
    select
        unit,
        is_edge,
        is_first,
        min(month) as first_month,
        max(month) as last_month,
        min(newborns) as fewest,
        max(newborns) as most,
        arg_min(usual, month) as usual,
    from (
        select
            *,
            date_diff('month', date '2000-01-01', month) - row_number() over (
                partition by unit, is_edge, is_low order by month
            ) as stretch,
        from broken
    )
    group by unit, is_edge, is_first, is_low, stretch
)

select
    unit,
    'admission' as table_name,
    'birth_month' as column_name,
    if(is_edge, 'note', 'query') as severity,
    concat(
        strftime(first_month, '%B %Y'),
        if(last_month > first_month, strftime(last_month, ' to %B %Y'), ''),
        if(fewest = most, format(': {}', most), format(': {} to {}', fewest, most)),
        if(last_month > first_month, ' newborns a month', ' newborns'),
        format(', where about {:.0f} a month were usual.', usual),
        case
            when not is_edge then ''
            when is_first then ' It is the first month of the export, which may begin within it.'
            else ' It is the last month of the export, which may end within it.'
        end
    ) as explanation,
from stretched
