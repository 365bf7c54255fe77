"""How a month stands against its target, and what that asks of its reader."""

import math

import pandas as pd
import pytest

from pipelines.reading import standing


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
        "change": "same",
        "is_silent": False,
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
        ({"is_silent": True}, standing.NOT_IN_EXPORT),
        ({"is_silent": True, "counted": 0}, standing.NOT_IN_EXPORT),
        ({"is_silent": True, "counted": 0, "denominator": 0}, standing.NO_NEWBORNS),
    ],
)
def test_state_against_target(changes: dict[str, object], expected: str) -> None:
    assert standing.against_target(month(**changes)).iloc[0] == expected


@pytest.mark.parametrize(
    ("change", "rank"),
    [("worse", 0), ("better", 3), ("moved", 3), ("same", 4), ("not_compared", 4)],
)
def test_what_got_worse_comes_first(change: str, rank: int) -> None:
    rate = {"rate": 0.95, "if_none_met": 0.95, "if_all_met": 0.95, "upper": 0.98, "lower": 0.9}
    assert standing.stand(month(change=change, **rate)).iloc[0]["rank"] == rank


def test_what_cannot_be_judged_asks_for_nothing() -> None:
    """Short of its target by its counts, but nobody was judged: after all that has a figure."""
    assert standing.stand(month(is_silent=True)).iloc[0]["rank"] == 5
