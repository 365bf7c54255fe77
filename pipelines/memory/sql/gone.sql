-- one row per delivery, newborn and later step that lets go of it
with reached as (
    -- What a step may let go of: all earlier rows of its unit, or those of one delivery.
    select
        held.step,
        held.unit,
        held.record_id,
        hides.step as hiding_step,
        hides.month_from,
        hides.month_to,
        if(held.is_whole, held.birth_month, null) as own_month,
    from held
    inner join hides
        on hides.unit = held.unit
        and hides.step > held.step
        and coalesce(hides.of_step, held.step) = held.step
),

-- A late entry has the birth month of the newest delivery before that holds its newborn; so has an
-- admission row whose own time of birth cannot be read.
dated as (
    select
        reached.step,
        reached.unit,
        reached.record_id,
        reached.hiding_step,
        reached.month_from,
        reached.month_to,
        coalesce(
            reached.own_month,
            (
                select max_by(known.birth_month, known.step)
                from held as known
                where known.unit = reached.unit
                    and known.record_id = reached.record_id
                    and known.is_whole
                    and known.step < reached.hiding_step
            )
        ) as birth_month,
    from reached
)

select
    step,
    unit,
    record_id,
    hiding_step,
from dated
where month_from is null
    or birth_month between month_from and month_to
