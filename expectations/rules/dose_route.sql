/*
title       = "A medicine by a route that is not its own"
table       = "dose"
severity    = "query"
explanation = "The route does not belong to this medicine. The entry may stand on the wrong line, or it was given so: look it up now, for it may have to be reported."
sources     = ["eye ointment into the eye; vitamin K and vaccine never into the eye or on the skin; vaccine and globulin into a muscle, or under the skin where bleeding is feared, never by mouth or into a vein: common practice, no published source"]
# A query, not an error: if it truly happened, the record is right and must stay.

[[examples]]
because = "eye ointment by another route, vitamin K or a vaccine into the eye or on the skin, a vaccine by mouth, globulin into a vein"
given.dose = """
record_id | kind                | status | route
ointment  | eye_antibiotic      | given  | intramuscular
skin      | eye_antibiotic      | given  | topical
vitamin_k | vitamin_k           | given  | ophthalmic
vaccine   | hepatitis_b_vaccine | given  | ophthalmic
on_skin   | vitamin_k           | given  | topical
mouth     | hepatitis_b_vaccine | given  | oral
vein      | hepatitis_b_immune_globulin | given | intravenous
"""
expect = """
record_id | column_name | severity
ointment  | route       | query
skin      | route       | query
vitamin_k | route       | query
vaccine   | route       | query
on_skin   | route       | query
mouth     | route       | query
vein      | route       | query
"""

[[examples]]
because = "usual routes, a blank route and a dose that was not given are left alone"
given.dose = """
record_id | kind                | status  | route
ointment  | eye_antibiotic      | given   | ophthalmic
muscle    | vitamin_k           | given   | intramuscular
mouth     | vitamin_k           | given   | oral
vein      | vitamin_k           | given   | intravenous
skin      | hepatitis_b_vaccine | given   | subcutaneous
blank     | eye_antibiotic      | given   |
declined  | eye_antibiotic      | refused | intramuscular
"""
expect = """
record_id | column_name
"""
*/
select
    row_id,
    'route' as column_name,
from typed.dose
where
    coalesce(status, 'given') = 'given'
    and (
        kind = 'eye_antibiotic' and route <> 'ophthalmic'
        or kind in ('vitamin_k', 'hepatitis_b_vaccine', 'hepatitis_b_immune_globulin')
        and route in ('ophthalmic', 'topical')
        or kind in ('hepatitis_b_vaccine', 'hepatitis_b_immune_globulin')
        and route in ('oral', 'intravenous')
    )
