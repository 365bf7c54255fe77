-- one row per delivery and newborn of which something stands: who wins, by one rule
-- Of everything that no later step lets go, the newest delivery that holds the newborn's admission
-- row wins for its whole record. Rows of a newborn in a delivery without its admission row are late
-- entries: they are added to whatever stands of it.
with left_over as (
    select held.*
    from held
    anti join gone using (step, unit, record_id)
),

winner as (
    select
        unit,
        record_id,
        max(step) as step,
    from left_over
    where is_whole
    group by unit, record_id
)

select left_over.*
from left_over
left join winner using (unit, record_id)
where not left_over.is_whole
    or winner.step = left_over.step
