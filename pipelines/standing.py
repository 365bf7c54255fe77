"""Where a measure stands in one month: against its target, and against the months before.

Both questions are answered with a stated rule, so that a page never calls chance a change.
"""

from typing import Final

import pandas as pd
from scipy.stats import fisher_exact

# Two-sided, so that with n comparisons and nothing going on at most n/100 signal by chance
# (Fisher's test is exact and therefore a little stricter than its level).
CHANGE_LEVEL: Final = 0.01
MONTHS_BEFORE: Final = 12
SMALL: Final = 20  # below this the pages draw open marks and say "small number"

NO_NEWBORNS: Final = "no_newborns"
NONE_JUDGED: Final = "none_judged"
NO_TARGET: Final = "no_target"
MET: Final = "met"
UNSURE: Final = "unsure"
SHORT: Final = "short"
SHORT_BEYOND_CHANCE: Final = "short_beyond_chance"

# Sort order inside a group: what needs attention first.
_RANK: Final = {
    SHORT_BEYOND_CHANCE: 0,
    UNSURE: 2,
    NONE_JUDGED: 2,
    SHORT: 3,
    MET: 4,
    NO_TARGET: 4,
    NO_NEWBORNS: 6,
}


def against_target(month: pd.DataFrame) -> pd.Series:
    """Return one state per measure of the month.

    ``unsure``: the undocumented and unusable newborns decide on which side of the target the
    rate lies. ``short_beyond_chance``: the whole 95 % interval lies on the wrong side.
    Needs: direction, denominator, counted, rate, lower, upper, if_none_met, if_all_met, target.
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
    state = state.mask(month["counted"] <= 0, NONE_JUDGED)
    return state.mask(month["denominator"] <= 0, NO_NEWBORNS)


def before(series: pd.DataFrame, breaks: pd.DataFrame, month: pd.Timestamp) -> pd.DataFrame:
    """Pool up to twelve months before ``month``, but never across a change of policy.

    Returns one row per measure: measure_id, before_numerator, before_counted, before_months.
    """
    earlier = series[series["month"] < month].copy()
    earlier = earlier[earlier["month"] >= month - pd.DateOffset(months=MONTHS_BEFORE)]
    passed = breaks[breaks["start_on"] < month + pd.DateOffset(months=1)]
    last_break = passed.groupby("measure_id")["start_on"].max().rename("since")
    earlier = earlier.join(last_break, on="measure_id")
    kept = earlier[earlier["since"].isna() | (earlier["month"] >= earlier["since"])]
    kept = kept[kept["counted"] > 0]
    pooled = kept.groupby("measure_id").agg(
        before_numerator=("numerator", "sum"),
        before_counted=("counted", "sum"),
        before_months=("month", "nunique"),
    )
    return pooled.reset_index()


def _p_value(numerator: float, counted: float, before_n: float, before_counted: float) -> float:
    table = [[numerator, counted - numerator], [before_n, before_counted - before_n]]
    return float(fisher_exact(table).pvalue)


def against_before(month: pd.DataFrame) -> pd.DataFrame:
    """Compare each measure with the months before by Fisher's exact test, two-sided.

    Returns p_value (nan where not compared), before_rate and moved: ``higher``, ``lower``,
    ``same`` (no more than chance) or ``not_compared`` (fewer than 20 newborns before, or none
    now). Needs: numerator, counted, rate, before_numerator, before_counted.
    """
    can = (month["counted"] > 0) & (month["before_counted"].fillna(0) >= SMALL)
    columns = ["numerator", "counted", "before_numerator", "before_counted"]
    tables = month.loc[can, columns].to_numpy(float)
    p_values = pd.Series([_p_value(*table) for table in tables], index=month.index[can])
    p_value = p_values.astype(float).reindex(month.index)
    before_rate = (month["before_numerator"] / month["before_counted"]).where(can)
    moved = pd.Series("same", index=month.index)
    signalled = p_value < CHANGE_LEVEL
    moved = moved.mask(signalled & (month["rate"] > before_rate), "higher")
    moved = moved.mask(signalled & (month["rate"] < before_rate), "lower").mask(
        ~can, "not_compared"
    )
    return pd.DataFrame({"p_value": p_value, "before_rate": before_rate, "moved": moved})


def verdict(moved: str, direction: str) -> str:
    """Return ``better``, ``worse``, ``moved``, ``same`` or ``not_compared``.

    >>> verdict("lower", "lower"), verdict("lower", "higher"), verdict("higher", "neither")
    ('better', 'worse', 'moved')
    """
    if moved in {"same", "not_compared"}:
        return moved
    if direction == "neither":
        return "moved"
    return "better" if moved == direction else "worse"


def stand(month: pd.DataFrame) -> pd.DataFrame:
    """Add target_state, p_value, before_rate, moved, change and rank to the month's rows.

    ``rank`` orders the rows of a group: 0 needs attention, 6 has no eligible newborns.
    """
    month = month.copy()
    month["target_state"] = against_target(month)
    month = month.join(against_before(month))
    pairs = zip(month["moved"], month["direction"], strict=True)
    month["change"] = [verdict(moved, direction) for moved, direction in pairs]
    rank = month["target_state"].map(_RANK)
    rank = rank.mask(month["change"] == "worse", rank.clip(upper=0))
    month["rank"] = rank.mask(month["change"].isin(["moved", "better"]), rank.clip(upper=3))
    return month
