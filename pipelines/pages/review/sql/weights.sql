-- one row per measure of the unit: how grave its gravest miss is (1 first), and its place among
-- the measures that the unit leads with (null: it names others, or none)
select
    gravity.measure_id,
    min(gravity.place) as gravity_place,
    any_value(list_position(unit_info.leading_measures, gravity.measure_id)) as leading_place,
from gravity
inner join unit_info using (unit)
where gravity.unit = $unit
group by gravity.measure_id
