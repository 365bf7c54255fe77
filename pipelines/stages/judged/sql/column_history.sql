-- What a column, kind or shift usually has: one row as in judged.completeness, with the median
-- share of the months before. policy_start (unit, name, start_on) is filled before.
create or replace temp table column_history as
with latest_policy as (
    select
        completeness.*,
        max(policy.start_on) as policy_on,
    from judged.completeness as completeness
    left join policy_start as policy
        on completeness.unit = policy.unit
        and coalesce(completeness.kind, completeness.column_name) = policy.name
        -- A policy from within a month counts for the whole of it.
        and date_trunc('month', policy.start_on) <= completeness.month
    group by all
),

-- History begins where the column was first used; a change of policy begins it anew.
used as (
    select
        *,
        usable / nullif(total, 0) as share,
        min(month) filter (where usable > 0) over same_policy as used_from,
    from latest_policy
    window
        same_policy as (partition by unit, table_name, kind, column_name, shift, policy_on)
)

select
    *,
    median(share) over before as usual_share,
    count(share) over before as months_before,
from used
where month >= used_from
window
    before as (
        partition by unit, table_name, kind, column_name, shift, policy_on
        order by month
        rows between unbounded preceding and 1 preceding
    )
