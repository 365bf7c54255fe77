/*
title       = "Medicine, place, unit and form that do not belong together"
table       = "dose"
severity    = "query"
explanation = "The place on the body does not belong to this medicine or its route. The entry may stand on the wrong line, or it was given so: look it up now, for it may have to be reported."
sources     = ["ointment into the eyes, injections into a thigh: common practice, no published source", "vaccine and globulin 0.5 mL (package leaflets, from memory), vaccine 5 or 10 micrograms, vitamin K 1 mg in 0.1 to 0.5 mL; the limits around them are our own"]
# The route has a rule of its own (dose_route), milligrams of vitamin K too (vitamin_k_dose).
# A query, not an error: if it truly happened, the record is right and must stay.

[parameters]
least_ml        = 0.05
vaccine_from_ml = 0.2
most_ml         = 1
vaccine_from_ug = 2.5
vaccine_up_to_ug = 20
most_cm         = 4

[[examples]]
because = "ointment into a thigh, injections into an eye, and a place that its own route cannot reach"
given.dose = """
record_id | kind                | status | route         | site
ointment  | eye_antibiotic      | given  |               | left_thigh
vitamin_k | vitamin_k           | given  |               | both_eyes
vaccine   | hepatitis_b_vaccine | given  | intramuscular | left_eye
mouth     | vitamin_k           | given  | oral          | right_thigh
"""
expect = """
record_id | column_name | severity
ointment  | site        | query
vitamin_k | site        | query
vaccine   | site        | query
mouth     | site        | query
"""

[[examples]]
because = "a volume that is no dose; a slip of the decimal point that would fit is named"
given.dose = """
record_id | kind                        | status | amount | amount_unit
ten_times | hepatitis_b_vaccine         | given  | 5      | mL
drop      | hepatitis_b_vaccine         | given  | 0.05   | mL
syringe   | hepatitis_b_immune_globulin | given  | 20     | mL
vitamin_k | vitamin_k                   | given  | 2      | mL
nothing   | vitamin_k                   | given  | 0      | mg
ointment  | eye_antibiotic              | given  | 10     | cm
large     | hepatitis_b_vaccine         | given  | 40     | ug
"""
expect = """
record_id | column_name | severity | suggestion                                 | explanation
ten_times | amount      | query    | 0.5 mL if the decimal point is missing   | The amount is no usual dose of this medicine for a newborn. The number or its unit may be wrong, or it was given so: look it up now, for it may have to be reported.
drop      | amount      | query    | 0.5 mL if the decimal point is one place too far left | The amount is no usual dose of this medicine for a newborn. The number or its unit may be wrong, or it was given so: look it up now, for it may have to be reported.
syringe   | amount      | query    |                                            | The amount is no usual dose of this medicine for a newborn. The number or its unit may be wrong, or it was given so: look it up now, for it may have to be reported.
vitamin_k | amount      | query    | 0.2 mL if the decimal point is missing   | The amount is no usual dose of this medicine for a newborn. The number or its unit may be wrong, or it was given so: look it up now, for it may have to be reported.
nothing   | amount      | query    |                                            | The amount is no usual dose of this medicine for a newborn. The number or its unit may be wrong, or it was given so: look it up now, for it may have to be reported.
ointment  | amount      | query    | 1 cm if the decimal point is missing     | The amount is no usual dose of this medicine for a newborn. The number or its unit may be wrong, or it was given so: look it up now, for it may have to be reported.
large     | amount      | query    | 4 microgram if the decimal point is missing | The amount is no usual dose of this medicine for a newborn. The number or its unit may be wrong, or it was given so: look it up now, for it may have to be reported.
"""

[[examples]]
because = "a unit, or a presentation, that is not of this medicine"
given.dose = """
record_id | kind                | status | amount | amount_unit | strength
strip     | hepatitis_b_vaccine | given  | 0.5    | cm          |
weight    | hepatitis_b_vaccine | given  | 10     | mg          |
adult     | hepatitis_b_vaccine | given  | 0.5    | mL          | adult
"""
expect = """
record_id | column_name | severity | explanation
strip     | amount_unit | query    | The unit of the amount does not belong to this medicine. The entry may stand on the wrong line: look it up.
weight    | amount_unit | query    | The unit of the amount does not belong to this medicine. The entry may stand on the wrong line: look it up.
adult     | strength    | query    | The adult presentation is recorded for a newborn. If it was given so, it may have to be reported; look it up now.
"""

[[examples]]
because = "usual doses, blanks, and a dose that was not given are left alone"
given.dose = """
record_id | kind                        | status  | route         | site        | amount | amount_unit | strength
eyes      | eye_antibiotic              | given   | ophthalmic    | both_eyes   | 1      | cm          |
one_eye   | eye_antibiotic              | given   | ophthalmic    | left_eye    | 0.1    | mL          |
muscle    | vitamin_k                   | given   | intramuscular | left_thigh  | 1      | mg          | newborn
volume    | vitamin_k                   | given   | intramuscular | left_thigh  | 0.5    | mL          | adult
vaccine   | hepatitis_b_vaccine         | given   | intramuscular | right_thigh | 0.5    | mL          | newborn
micro     | hepatitis_b_vaccine         | given   | intramuscular | right_thigh | 10     | ug          |
globulin  | hepatitis_b_immune_globulin | given   | intramuscular | left_thigh  | 0.5    | mL          |
blank     | hepatitis_b_vaccine         | given   |               |             |        |             |
declined  | hepatitis_b_vaccine         | refused | oral          | left_eye    | 5      | cm          |
no_unit   | hepatitis_b_vaccine         | given   |               |             | 5      |             |
"""
expect = """
record_id | column_name
"""
*/
with usual as (
    select
        setting.unit,
        unnest(
            [
                {'kind': 'eye_antibiotic', 'amount_unit': 'cm', 'least': 0.1, 'most': most_cm},
                {'kind': 'eye_antibiotic', 'amount_unit': 'mL', 'least': 0.01, 'most': most_ml},
                {'kind': 'eye_antibiotic', 'amount_unit': 'mg', 'least': 0.01, 'most': null},
                {'kind': 'vitamin_k', 'amount_unit': 'mg', 'least': 0.01, 'most': null},
                {'kind': 'vitamin_k', 'amount_unit': 'ug', 'least': 1, 'most': null},
                {'kind': 'vitamin_k', 'amount_unit': 'mL', 'least': least_ml, 'most': most_ml},
                {
                    'kind': 'hepatitis_b_vaccine',
                    'amount_unit': 'mL',
                    'least': vaccine_from_ml,
                    'most': most_ml,
                },
                {
                    'kind': 'hepatitis_b_vaccine',
                    'amount_unit': 'ug',
                    'least': vaccine_from_ug,
                    'most': vaccine_up_to_ug,
                },
                {
                    'kind': 'hepatitis_b_immune_globulin',
                    'amount_unit': 'mL',
                    'least': vaccine_from_ml,
                    'most': most_ml,
                },
            ],
            recursive := true
        ),
    from rule_setting as setting
),

given as (
    select
        dose.*,
        usual.kind is not null as is_usual_unit,
        usual.least,
        coalesce(usual.most, 'infinity'::double) as most,
        if(dose.amount_unit = 'ug', 'microgram', dose.amount_unit) as unit_words,
        dose.kind = 'eye_antibiotic' as is_for_eyes,
        dose.site in ('both_eyes', 'left_eye', 'right_eye') as is_in_eyes,
    from typed.dose as dose
    inner join rule_setting as setting using (unit)
    left join usual using (unit, kind, amount_unit)
    where
        coalesce(dose.status, 'given') = 'given'
        and dose.kind in (
            'eye_antibiotic', 'vitamin_k', 'hepatitis_b_vaccine', 'hepatitis_b_immune_globulin'
        )
)

select
    row_id,
    'site' as column_name,
    null as explanation,
    null as suggestion,
from given
where is_for_eyes <> is_in_eyes or route = 'oral' and not is_in_eyes
union all
select
    row_id,
    'amount' as column_name,
    'The amount is no usual dose of this medicine for a newborn. The number or its unit may be '
        || 'wrong, or it was given so: look it up now, for it may have to be reported.'
        as explanation,
    case
        when amount / 10 between least and most and amount > most
        then format('{:g} {} if the decimal point is missing', amount / 10, unit_words)
        when amount * 10 between least and most and amount > 0
        then format(
            '{:g} {} if the decimal point is one place too far left', amount * 10, unit_words
        )
    end as suggestion,
from given
where not amount between least and most
union all
select
    row_id,
    'amount_unit' as column_name,
    'The unit of the amount does not belong to this medicine. The entry may stand on the wrong '
        || 'line: look it up.' as explanation,
    null as suggestion,
from given
where amount_unit is not null and not is_usual_unit
union all
select
    row_id,
    'strength' as column_name,
    'The adult presentation is recorded for a newborn. If it was given so, it may have to be '
        || 'reported; look it up now.' as explanation,
    null as suggestion,
from given
where strength = 'adult' and kind in ('hepatitis_b_vaccine', 'hepatitis_b_immune_globulin')
