-- one row per newborn and finding that something had not come: until when, and who was told when
with told as (
    select
        newborn_id as newborn_id,
        kind as kind,
        min(told_minutes) as told_minutes,
        bool_or(
            told_role is not null
            or told_minutes is not null
            or list_has_any(coalesce(unusable, []), ['told_minutes', 'told_role'])
        ) as is_told,
    from mart.event
    where table_name = 'finding' and as_expected is not true
    group by newborn_id, kind
)

select
    care_once.newborn_id as newborn_id,
    finding.kind as kind,
    -- Until it came, or the newborn left; null where neither is known.
    least(care_once.minutes, way.here_until_minutes) as until_minutes,
    coalesce(told.is_told, false) or care_once.has_unplaced as is_documented,
    told.told_minutes is not null as is_usable,
    told.told_minutes as judged_minutes,
from care_once
inner join (
    values ('no_stool', 'first_stool'), ('no_void', 'first_void')
) as finding (kind, care_kind)
    on finding.care_kind = care_once.kind
inner join mart.way as way on way.newborn_id = care_once.newborn_id
left join told on told.newborn_id = care_once.newborn_id and told.kind = finding.kind
