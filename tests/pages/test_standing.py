"""How a month stands: against the target and against the months before."""

import math

import pandas as pd
import pytest
from scipy.stats import hypergeom

from pipelines import standing


def month(**changes: object) -> pd.DataFrame:
    row: dict[str, object] = {
        "direction": "higher",
        "denominator": 60,
        "counted": 60,
        "numerator": 45,
        "not_documented": 0,
        "unusable": 0,
        "rate": 0.75,
        "lower": 0.63,
        "upper": 0.84,
        "if_none_met": 0.75,
        "if_all_met": 0.75,
        "target": 0.9,
        "before_numerator": 600,
        "before_counted": 720,
    }
    return pd.DataFrame([{**row, **changes}])


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, standing.SHORT_BEYOND_CHANCE),
        ({"upper": 0.92}, standing.SHORT),
        ({"upper": 0.90}, standing.SHORT),  # an interval that reaches the target is not beyond it
        ({"rate": 0.90, "if_none_met": 0.9, "if_all_met": 0.9, "upper": 0.95}, standing.MET),
        ({"if_all_met": 0.91, "not_documented": 10}, standing.UNSURE),
        ({"if_all_met": 0.89, "not_documented": 8}, standing.SHORT_BEYOND_CHANCE),
        ({"target": math.nan}, standing.NO_TARGET),
        ({"direction": "neither"}, standing.NO_TARGET),
        ({"direction": "lower", "target": 0.8}, standing.MET),
        ({"direction": "lower", "target": 0.5}, standing.SHORT_BEYOND_CHANCE),
        ({"direction": "lower", "target": 0.7}, standing.SHORT),
        ({"counted": 0}, standing.NONE_JUDGED),
        ({"counted": 0, "denominator": 0}, standing.NO_NEWBORNS),
    ],
)
def test_state_against_target(changes: dict[str, object], expected: str) -> None:
    assert standing.against_target(month(**changes)).iloc[0] == expected


def test_p_value_is_fishers() -> None:
    """Against the definition: the sum of the hypergeometric chances no greater than ours.

    Source: Fisher 1935, computed here from scipy's hypergeometric distribution.
    """
    found = standing.against_before(month()).iloc[0]["p_value"]
    law = hypergeom(720 + 60, 600 + 45, 60)
    ours = law.pmf(45)
    expected = sum(law.pmf(k) for k in range(61) if law.pmf(k) <= ours * (1 + 1e-7))
    assert found == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("numerator", "direction", "expected"),
    [
        (35, "higher", "worse"),
        (60, "higher", "better"),
        (35, "lower", "better"),
        (35, "neither", "moved"),
        (48, "higher", "same"),
    ],
)
def test_change_needs_more_than_chance(numerator: int, direction: str, expected: str) -> None:
    changes = {"numerator": numerator, "rate": numerator / 60, "direction": direction}
    assert standing.stand(month(**changes)).iloc[0]["change"] == expected


def test_few_newborns_before_are_not_compared() -> None:
    few = standing.against_before(month(before_numerator=10, before_counted=19)).iloc[0]
    assert few["moved"] == "not_compared"
    assert math.isnan(few["p_value"])


def series(months: int) -> pd.DataFrame:
    starts = pd.date_range("2025-01-01", periods=months, freq="MS")
    return pd.DataFrame({"measure_id": "m", "month": starts, "numerator": 8, "counted": 10})


NO_BREAKS = pd.DataFrame({"measure_id": [], "start_on": pd.to_datetime([])})


def test_only_twelve_months_before_are_pooled() -> None:
    pooled = standing.before(series(20), NO_BREAKS, pd.Timestamp("2026-08-01"))
    assert pooled[["before_counted", "before_months"]].iloc[0].tolist() == [120, 12]


def test_nothing_is_pooled_across_a_change_of_policy() -> None:
    breaks = pd.DataFrame({"measure_id": ["m"], "start_on": pd.to_datetime(["2026-04-01"])})
    pooled = standing.before(series(20), breaks, pd.Timestamp("2026-08-01"))
    assert pooled["before_months"].iloc[0] == 4
    within = pd.DataFrame({"measure_id": ["m"], "start_on": pd.to_datetime(["2026-08-15"])})
    assert standing.before(series(20), within, pd.Timestamp("2026-08-01")).empty
