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
order by position, measure_id
