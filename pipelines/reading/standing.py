"""Where a measure stands in one month: against its target, and what that asks of its reader.

Whether it moved is told by its chart over time (:mod:`pipelines.signals`).
"""

from typing import Annotated, Final, TypedDict

import pandas as pd

NO_NEWBORNS: Final = "no_newborns"
NONE_JUDGED: Final = "none_judged"
NOT_IN_EXPORT: Final = "not_in_export"
NO_TARGET: Final = "no_target"
MET: Final = "met"
UNSURE: Final = "unsure"
SHORT: Final = "short"
SHORT_BEYOND_CHANCE: Final = "short_beyond_chance"
# States of a row that has no percent; against_target says why.
WITHOUT_FIGURE: Final = (NO_NEWBORNS, NONE_JUDGED, NOT_IN_EXPORT)

# Sort order inside a group: what needs attention first.
_RANK: Final = {
    SHORT_BEYOND_CHANCE: 0,
    UNSURE: 2,
    NONE_JUDGED: 2,
    SHORT: 3,
    MET: 4,
    NO_TARGET: 4,
    NOT_IN_EXPORT: 5,
    NO_NEWBORNS: 6,
}


class StandingRow(TypedDict):
    """How a measure stands in its month: what ``stand`` adds."""

    target_state: Annotated[str, "met, unsure, short, short_beyond_chance, no_target, ..."]
    rank: Annotated[int, "order in a group: 0 needs attention, 1 ended unanswered, 6 has none"]


def against_target(month: pd.DataFrame) -> pd.Series:
    """Return one state per measure of the month.

    ``unsure``: the undocumented and unusable newborns decide on which side of the target the
    rate lies. ``short_beyond_chance``: the whole 95 % interval lies on the wrong side.
    ``not_in_export``: no month of the store has a usable record of it. Needs: direction,
    denominator, counted, rate, lower, upper, if_none_met, if_all_met, target, is_silent.
    """
    is_lower = month["direction"] == "lower"
    wrong = (month["rate"] > month["target"]).where(is_lower, month["rate"] < month["target"])
    beyond = (month["lower"] > month["target"]).where(is_lower, month["upper"] < month["target"])
    low_ok, high_ok = (
        month["if_none_met"] >= month["target"],
        month["if_all_met"] >= month["target"],
    )
    state = pd.Series(MET, index=month.index)
    state = state.mask(wrong, SHORT).mask(beyond, SHORT_BEYOND_CHANCE)
    # With "lower is better" a rate equal to the target is on the good side as well.
    equal = month["rate"] == month["target"]
    unknown = month["not_documented"] + month["unusable"] > 0
    state = state.mask((low_ok != high_ok) & unknown & ~equal, UNSURE)
    has_no_side = month["target"].isna() | (month["direction"] == "neither")
    state = state.mask(has_no_side, NO_TARGET)
    state = state.mask(month["counted"] <= 0, NONE_JUDGED).mask(month["is_silent"], NOT_IN_EXPORT)
    state = state.mask(month["denominator"] <= 0, NO_NEWBORNS)
    # Without the column that says whom it is about, nobody knows that there is nobody.
    if "missing_column" not in month:
        return state
    return state.mask(month["missing_column"].notna(), NOT_IN_EXPORT)


def stand(month: pd.DataFrame) -> pd.DataFrame:
    """Add target_state and rank to the month's rows.

    ``rank`` orders the rows of a group: 0 needs attention, 6 has no eligible newborns. Needs
    what ``against_target`` needs, and change (better, worse, moved, same, not_compared). What got
    worse is urgent until someone answers it, and after it ended unanswered comes next; is_urgent
    and is_left say so (:mod:`life`), and without them whatever got worse is urgent.
    """
    month = month.copy()
    month["target_state"] = against_target(month)
    rank = month["target_state"].map(_RANK)
    is_worse = month["change"] == "worse"
    rank = rank.mask(is_worse | month["change"].isin(["moved", "better"]), rank.clip(upper=3))
    rank = rank.mask(month["is_left"], rank.clip(upper=1)) if "is_left" in month else rank
    urgent = month.get("is_urgent", is_worse)
    month["rank"] = rank.mask(urgent, rank.clip(upper=0))
    return month
