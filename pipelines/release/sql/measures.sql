-- one row per measure: what a reader of released figures needs to know of it
select
    measure_id,
    parent_id,
    title,
    question,
    kind,
    direction,
    population,
    numerator as numerator_words,
    window_words,
    exceptions,
    exclusions,
    missing,
    target_words,
    sources,
    caution,
    version,
from measure_info
-- another unit's own measure has numbers in force there and none here
where measure_id not in (
    select measure_id from policy group by measure_id having not bool_or(unit = $unit)
)
order by position, measure_id
