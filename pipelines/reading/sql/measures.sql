-- one row per measure: what it is, in the order in which the pages show it
select
    * exclude (numerator, population),
    numerator as numerator_words,
    population as population_words,
from measure_info
-- a page of rates leaves out how long it took: the view spread has the medians
where kind <> 'minutes'
order by position, measure_id
