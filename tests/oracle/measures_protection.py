"""The prophylaxis measures, recomputed from the prose of their headers."""

from fractions import Fraction

from .care import first_minute, given, has_text, listed, numbered, reasons_of
from .engine import Facts, Setting
from .reader import Newborn, Row

VITAMIN_K_REASONS = {"declined", "contraindicated", "unstable", "oral_chosen"}
EYE_REASONS = {"declined", "contraindicated", "no_stock"}


def vitamin_k(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Vitamin K into a muscle; another route is recorded care that does not meet it."""
    rows = newborn.of_kind("dose", "vitamin_k")
    doses = given(rows)
    minutes = first_minute(row for row in doses if row.get("route") == "intramuscular")
    reasons = reasons_of(rows)
    oral = ["oral_chosen" for row in doses if row.get("route") == "oral"]
    at_least = setting["at_least"]
    in_time = [
        (row.get("route"), row.get("minutes"))
        for row in doses
        if row.get("route") in {None, "intramuscular"}
        and (row.get("minutes") is None or at_least <= row.get("minutes") <= setting["at_most"])
    ]
    is_clear = not in_time or any(None not in known for known in in_time)
    is_put_off = minutes is not None and minutes <= setting["put_off_until_minutes"]
    later = listed(reasons, {"later"}) if is_put_off else ()
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=bool(doses) and is_clear,
            exception=listed(reasons + oral, VITAMIN_K_REASONS) + later,
            not_done=() if doses else tuple(reasons),
            minutes=minutes,
        )
    ]


def _eyes_of(row: Row, is_blank_both: bool) -> set[str] | None:
    """The eyes a dose reached; None where route or site do not say."""
    route, site = row.get("route"), row.get("site")
    if route is None:
        return None
    if route != "ophthalmic":
        return set()
    if site is None:
        is_blank = "site" not in row.unusable
        return {"left_eye", "right_eye"} if is_blank_both and is_blank else None
    return {"left_eye", "right_eye"} if site == "both_eyes" else {site} & {"left_eye", "right_eye"}


def eye_ointment(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Both eyes, charted together or apart; done when the second eye is."""
    rows = newborn.of_kind("dose", "eye_antibiotic")
    doses = given(rows)
    is_blank_both = setting.is_on("blank_site_is_both_eyes")
    reached = [(row, _eyes_of(row, is_blank_both)) for row in doses]
    left = first_minute(row for row, eyes in reached if eyes and "left_eye" in eyes)
    right = first_minute(row for row, eyes in reached if eyes and "right_eye" in eyes)
    minutes = None if left is None or right is None else max(left, right)
    is_usable = any(row.get("minutes") is not None and eyes is not None for row, eyes in reached)
    reasons = reasons_of(rows)
    return [
        Facts(
            is_documented=bool(rows),
            is_usable=is_usable,
            exclusion=None if setting.is_on("policy_given") else "not applicable by policy",
            exception=listed(reasons, EYE_REASONS),
            not_done=() if doses else tuple(reasons),
            minutes=minutes,
        )
    ]


# --- each dose ---------------------------------------------------------------------------------

MUSCLE = ("vitamin_k", "hepatitis_b_vaccine", "hepatitis_b_immune_globulin")
HEPATITIS_B = ("hepatitis_b_vaccine", "hepatitis_b_immune_globulin")


def _doses_given(newborn: Newborn, kinds: tuple[str, ...]) -> list[Row]:
    """Every dose recorded as given, whatever its kind."""
    rows = [row for row in newborn.events if row.table == "dose" and row.get("kind") in kinds]
    return given(rows)


def _fits(dose: Row, weight_g: Fraction, setting: Setting) -> bool:
    """Whether an amount in mg or ug lies between the edges for the weight, a tenth wider."""
    mg = dose.get("amount") / (1000 if dose.get("amount_unit") == "ug" else 1)
    low, high = setting["full_least_mg"], setting["full_most_mg"]
    if weight_g <= setting["small_at_most_g"]:
        low = setting["small_least_mg_per_kg"] * weight_g / 1000
        high = setting["small_most_mg_per_kg"] * weight_g / 1000
    tolerance = setting["tolerance"]
    return bool(low * (1 - tolerance) <= mg <= high * (1 + tolerance))


def vitamin_k_dose(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Each dose of vitamin K into a muscle, against the birth weight."""
    rows = _doses_given(newborn, ("vitamin_k",))
    into_muscle = [row for row in rows if row.get("route") == "intramuscular"]
    weight_g = newborn.get("weight_g")
    found = []
    for item, tied, row in numbered(into_muscle):
        is_mass = row.get("amount_unit") in {"mg", "ug"}
        is_usable = row.get("amount") is not None and is_mass and weight_g is not None
        found.append(
            Facts(
                item=item,
                tied=tied,
                is_documented=has_text(row, "amount"),
                is_usable=is_usable,
                minutes=row.get("minutes"),
                is_met=is_usable and _fits(row, weight_g, setting),
            )
        )
    return found


def product_strength(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Each injection; without a product code nobody can say."""
    return [
        Facts(
            item=item,
            tied=tied,
            is_documented=True,
            is_usable=row.get("strength") is not None,
            minutes=row.get("minutes"),
            is_met=row.get("strength") == "newborn",
        )
        for item, tied, row in numbered(_doses_given(newborn, MUSCLE))
    ]


def _is_at_one_site(one: Row, other: Row, within: Fraction) -> bool | None:
    """Whether two doses were given together at one site; None where the record does not say."""
    known = [row.get("minutes") for row in (one, other)]
    is_together = None if None in known else abs(known[0] - known[1]) <= within
    sites = [row.get("site") for row in (one, other)]
    is_same = None if None in sites else sites[0] == sites[1]
    if False in (is_together, is_same):
        return False
    return True if is_together and is_same else None


def _beside_others(dose: Row, doses: list[Row], within: Fraction) -> set[bool | None]:
    """What is known of a vaccine or globulin beside each of the other kind."""
    if dose.get("kind") not in HEPATITIS_B:
        return set()
    others = [row for row in doses if row.get("kind") in set(HEPATITIS_B) - {dose.get("kind")}]
    return {_is_at_one_site(dose, other, within) for other in others}


def route_and_site(newborn: Newborn, setting: Setting) -> list[Facts]:
    """Each of the four medicines by its own route; a blank route is never a pass."""
    doses = _doses_given(newborn, ("eye_antibiotic", *MUSCLE))
    found = []
    for item, tied, row in numbered(doses):
        right = "ophthalmic" if row.get("kind") == "eye_antibiotic" else "intramuscular"
        route = row.get("route")
        beside = _beside_others(row, doses, setting["together_minutes"])
        is_oral = row.get("kind") == "vitamin_k" and route == "oral"
        is_wrong = True in beside or route not in {None, right}
        is_unknown = not is_wrong and (route is None or None in beside)
        found.append(
            Facts(
                item=item,
                tied=tied,
                is_documented=True,
                is_usable=not is_unknown,
                exception=("oral_chosen",) * is_oral,
                minutes=row.get("minutes"),
                is_met=route == right and not is_wrong,
            )
        )
    return found
