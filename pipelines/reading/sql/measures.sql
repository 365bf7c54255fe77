-- one row per measure of a unit: what it is, in the order in which the pages show it
select
    * exclude (numerator, population),
    numerator as numerator_words,
    population as population_words,
from measure_info
-- a page of rates leaves out how long it took: the view spread has the medians
where
    kind <> 'minutes'
    -- another unit's own measure has numbers in force there and none here
    and measure_id not in (
        select measure_id from policy group by measure_id having not bool_or(unit = $unit)
    )
order by position, measure_id
