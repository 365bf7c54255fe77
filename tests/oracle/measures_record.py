"""The measures of measuring and of the record, recomputed from the prose of their headers."""

from fractions import Fraction

from .care import has_text, was_unstable
from .engine import Facts, Setting
from .reader import Newborn

SIZES = ("weight_g", "length_cm", "head_circumference_cm")
NEEDED = (
    "birth_place",
    "mode_of_birth",
    "gestational_age_days",
    "sex",
    "plurality",
    *SIZES,
    "apgar_1",
    "apgar_5",
    "maternal_hepatitis_b",
    "disposition",
    "language",
    "payer",
)
UNSTABLE = "newborn_unstable"


def size_triad(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Weight, length and head; length and head are excused while not stable."""
    until = setting["until_minutes"]
    is_there = [has_text(newborn.admission, name) for name in SIZES]
    minutes = newborn.get("size_minutes")
    is_usable = "size_minutes" not in newborn.admission.unusable and all(
        newborn.get(name) is not None for name in SIZES
    )
    is_there_in_time = is_usable and (minutes is None or minutes <= until)
    is_half = newborn.get("weight_g") is not None and not all(is_there)
    return [
        Facts(
            is_documented=all(is_there),
            is_usable=is_usable,
            exception=(UNSTABLE,) * (is_half and was_unstable(newborn, until)),
            minutes=minutes,
            closes_minutes=until,
            judged_minutes=(until if minutes is None else minutes) if is_there_in_time else None,
            is_met=is_there_in_time,
        )
    ]


def birth_weight_on_time(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The weight at the one time of all sizes; without a time nobody knows when."""
    minutes, has_weight = newborn.get("size_minutes"), newborn.get("weight_g") is not None
    return [
        Facts(
            is_documented=has_text(newborn.admission, "weight_g"),
            is_usable=has_weight and minutes is not None,
            exception=(UNSTABLE,) * was_unstable(newborn, setting["at_most"]),
            minutes=minutes if has_weight else None,
        )
    ]


def record_completeness(newborn: Newborn, setting: Setting) -> list[Facts]:
    """The share of 14 fields that is usable; short of it, the blank ones go before the masked."""
    n_there = sum(has_text(newborn.admission, name) for name in NEEDED)
    n_usable = sum(newborn.get(name) is not None for name in NEEDED)
    share = setting["share_needed"]
    is_enough = Fraction(n_usable, len(NEEDED)) >= share
    return [
        Facts(
            is_documented=Fraction(n_there, len(NEEDED)) >= share,
            is_usable=is_enough,
            is_met=is_enough,
        )
    ]
