"""The states of a newborn in a measure, and the counts that are made of them."""

from typing import Final

# ``not_in_numerator`` is what is left of the rate's base: with the numerator it gives the rate,
# so it is published, and a small one is as telling as a small numerator.
COUNTS: Final = (
    "initial_population",
    "exclusion",
    "denominator",
    "exception",
    "numerator",
    "not_in_numerator",
    "late",
    "not_done",
    "not_met",
    "not_documented",
    "unusable",
)


STATES = (
    "met",
    "late",
    "not_done",
    "not_documented",
    "unusable",
    "not_met",
    "exception",
    "exclusion",
)
