-- one row per vaccine and immune globulin given to one newborn: whether together and at one site;
-- null where the record does not say
-- reads setting: together_minutes
with given as (
    select
        newborn_id as newborn_id,
        event_id as event_id,
        kind as kind,
        minutes as minutes,
        site as site,
    from mart.event
    where
        table_name = 'dose'
        and kind in ('hepatitis_b_vaccine', 'hepatitis_b_immune_globulin')
        and status = 'given'
)

select
    vaccine.newborn_id as newborn_id,
    vaccine.event_id as vaccine_id,
    globulin.event_id as globulin_id,
    abs(vaccine.minutes - globulin.minutes) <= setting.together_minutes
    and vaccine.site = globulin.site as is_at_one_site,
from given as vaccine
inner join given as globulin
    on globulin.newborn_id = vaccine.newborn_id and globulin.kind = 'hepatitis_b_immune_globulin'
inner join setting on setting.newborn_id = vaccine.newborn_id
where vaccine.kind = 'hepatitis_b_vaccine'
