-- What a number that cannot be read probably says, where its text shows the cause. Reads
-- unreadable_text (table_name, row_id, column_name, kind, text, stated_unit), filled before. One row
-- per cell whose cause is known; suggestion is null where the cause is known and the value not.
-- The pound is 453.59237 g, the inch 2.54 cm (1959 agreement); Celsius = (Fahrenheit - 32) / 1.8.
create or replace temp table text_reading as
with said as (
    select
        table_name,
        row_id,
        column_name,
        case
            when kind = 'temperature' or column_name like '%temperature_c' then 'temperature'
            when column_name = 'weight_g' then 'mass'
            when column_name in ('length_cm', 'head_circumference_cm') then 'length'
            when column_name = 'gestational_age_days' then 'gestation'
            else 'number'
        end as quantity,
        lower(trim(text)) as text,
        -- A number that can be read, but not in the unit that its row states.
        column_name = 'value' and stated_unit is not null and try_cast(text as double) is not null
            as is_unit_wrong,
        stated_unit,
        replace(kind, '_', ' ') as sign,
    from unreadable_text
),

parts as (
    select
        *,
        regexp_extract(
            text,
            '^(\d{1,2})\s*(?:lbs?|pounds?)\.?,?\s*(?:(\d{1,2}(?:\.\d+)?)\s*(?:oz|ounces?)\.?)?$',
            ['pounds', 'ounces']
        ) as imperial,
        -- A number, with a comma or a point in it or not, and perhaps its unit.
        regexp_extract(
            text,
            '^(\d+)(?:([.,])(\d+))?\s*(g|gm|grams?|kg|oz|lbs?|cm|mm|in|inch|inches|°?c|°?f|%|bpm|/min|mg/dl)?\.?$',
            ['whole', 'mark', 'fraction', 'unit']
        ) as plain,
    from said
),

numbered as (
    select
        *,
        -- 3,290 has its thousands set off where it is a mass; every other comma is a decimal one.
        quantity = 'mass' and plain.mark = ',' and length(plain.fraction) = 3 as is_thousands,
        try_cast(
            if(
                quantity = 'mass' and plain.mark = ',' and length(plain.fraction) = 3,
                concat(plain.whole, plain.fraction),
                concat(plain.whole, if(plain.mark = '', '', '.'), plain.fraction)
            ) as double
        ) as number,
    from parts
),

repaired as (
    select
        *,
        case quantity
            when 'mass'
            then case
                when imperial.pounds <> ''
                then cast(imperial.pounds as double) * 453.59237
                    + coalesce(try_cast(imperial.ounces as double), 0) * 28.349523125
                when plain.unit = 'oz' then number * 28.349523125
                when plain.unit in ('lb', 'lbs') then number * 453.59237
                when plain.unit = 'kg' or plain.unit = '' and number < 10 then number * 1000
                else number
            end
            when 'length'
            then case
                when plain.unit = 'mm' then number / 10
                when plain.unit in ('in', 'inch', 'inches') then number * 2.54
                else number
            end
            when 'temperature'
            then if(
                plain.unit in ('f', '°f') or plain.unit = '' and number > 80,
                (number - 32) / 1.8,
                number
            )
            else number
        end as value,
    from numbered
)

select
    table_name,
    row_id,
    column_name,
    case
        when is_unit_wrong and stated_unit = 'none' then 'No unit is stated beside the number'
        when is_unit_wrong and stated_unit = 'other'
        then 'The unit stated beside the number is on no list of the unit file'
        when is_unit_wrong
        then format(
            'The unit stated beside the number is {}, in which {} is not read',
            stated_unit,
            coalesce(sign, 'what was observed')
        )
        when imperial.pounds <> '' then 'The weight is written in pounds and ounces'
        when quantity = 'gestation' and plain.mark <> ''
        then 'The gestation is written with a decimal point, and not as weeks and days'
        when quantity = 'gestation' then 'The gestation is written without its days'
        when plain.unit <> '' then 'A unit is written beside the number'
        when is_thousands then 'The thousands are set off with a comma'
        else 'The number is written with a decimal comma'
    end as cause,
    case if(is_unit_wrong, 'none', quantity)
        when 'none' then null
        when 'mass'
        then if(value between 200 and 8200, format('{:,.0f} g, if so', value), null)
        when 'length' then if(value between 15 and 65, format('{:.1f} cm, if so', value), null)
        when 'temperature'
        then if(value between 25 and 43, format('{:.1f} °C, if so', value), null)
        when 'gestation'
        then if(
            length(plain.fraction) = 1 and plain.fraction <= '6' and plain.whole between '20' and '46',
            format('{}+{}, if the last digit is days', plain.whole, plain.fraction),
            null
        )
        else format('{:g}, if so', value)
    end as suggestion,
from repaired
where
    is_unit_wrong
    or imperial.pounds <> ''
    or quantity = 'gestation' and length(plain.whole) = 2
    or quantity <> 'gestation' and plain.whole <> '' and (plain.unit <> '' or plain.mark = ',')
