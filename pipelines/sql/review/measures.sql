-- one row per measure: what it is, in the order in which the pages show it
select
    * exclude (numerator, population),
    numerator as numerator_words,
    population as population_words,
from measure_info
order by position, measure_id
