/*
title       = "A kind of entry went silent on one shift"
severity    = "query"
explanation = "One shift has almost none of what the other goes on recording. Probably the export leaves out a shift, a room or a sign-in; less likely the shift records elsewhere."
suggestion  = "Ask where that shift records it, and whether the export is filtered by time, room or user. Until it is known, do not compare the shifts."
tables      = ["observation", "dose", "care", "finding"]
sources     = ["as for a column that went silent; common practice, no published source"]

[parameters]
below_share_of_usual = 0.2
at_least = 20
months_before = 3
chance = 0.0001

[[examples]]
because = "nights lose their first feeds in June, days keep them"
given.completeness = """
table_name | kind       | column_name | shift | month      | total | recorded | usable
care       | first_feed | kind        | day   | 2025-03-01 | 60    | 55       | 54
care       | first_feed | kind        | day   | 2025-04-01 | 60    | 55       | 54
care       | first_feed | kind        | day   | 2025-05-01 | 60    | 55       | 54
care       | first_feed | kind        | day   | 2025-06-01 | 60    | 55       | 54
care       | first_feed | kind        | night | 2025-03-01 | 40    | 36       | 36
care       | first_feed | kind        | night | 2025-04-01 | 40    | 36       | 36
care       | first_feed | kind        | night | 2025-05-01 | 40    | 36       | 36
care       | first_feed | kind        | night | 2025-06-01 | 40    | 1        | 1
"""
expect = """
table_name | column_name | explanation
care       | kind        | first feed at night, June 2025: 1 of 40 newborns have a usable entry; 90 % were usual. The other shift goes on as before.
"""

[[examples]]
because = "silent on both shifts is silent altogether, and told once, by the other rule"
given.completeness = """
table_name | kind       | column_name | shift | month      | total | recorded | usable
care       | first_feed | kind        | day   | 2025-03-01 | 60    | 55       | 54
care       | first_feed | kind        | day   | 2025-04-01 | 60    | 55       | 54
care       | first_feed | kind        | day   | 2025-05-01 | 60    | 55       | 54
care       | first_feed | kind        | day   | 2025-06-01 | 60    | 0        | 0
care       | first_feed | kind        | night | 2025-03-01 | 40    | 36       | 36
care       | first_feed | kind        | night | 2025-04-01 | 40    | 36       | 36
care       | first_feed | kind        | night | 2025-05-01 | 40    | 36       | 36
care       | first_feed | kind        | night | 2025-06-01 | 40    | 0        | 0
"""
expect = """
table_name | column_name
"""
*/
with judged as (
    select
        history.*,
        history.share < setting.below_share_of_usual * history.usual_share as is_low,
        history.total >= setting.at_least
        and history.months_before >= setting.months_before
        -- So few by chance alone? Chernoff's bound for a Poisson count.
        and exp(
            history.usable - history.usual_share * history.total
            + history.usable * ln(history.usual_share * history.total / greatest(history.usable, 1))
        ) < setting.chance as is_beyond_chance,
    from column_history as history
    inner join rule_setting as setting using (unit)
    where history.shift in ('day', 'night')
),

silent as (
    select
        low.*,
        date_diff('month', date '2000-01-01', low.month) - row_number() over (
            partition by low.unit, low.table_name, low.kind, low.shift
            order by low.month
        ) as stretch,
    from judged as low
    inner join judged as other
        on low.unit = other.unit
        and low.table_name = other.table_name
        and low.kind = other.kind
        and low.month = other.month
        and low.shift <> other.shift
    where low.is_low and low.is_beyond_chance and not other.is_low
),

stretched as (
    select
        unit,
        table_name,
        kind,
        column_name,
        shift,
        min(month) as first_month,
        max(month) as last_month,
        sum(total) as total,
        sum(usable) as usable,
        arg_min(usual_share, month) as usual_share,
    from silent
    group by unit, table_name, kind, column_name, shift, stretch
)

select
    unit,
    table_name,
    column_name,
    concat(
        replace(kind, '_', ' '),
        if(shift = 'night', ' at night', ' by day'),
        strftime(first_month, ', %B %Y'),
        if(last_month > first_month, strftime(last_month, ' to %B %Y'), ''),
        format(
            ': {} of {} newborns have a usable entry; {:.0f} % were usual.',
            usable,
            total,
            100 * usual_share
        ),
        ' The other shift goes on as before.'
    ) as explanation,
from stretched
