"""A measure that looks better while less is written down, by hand: the page's rule for it."""

from typing import Any

import pandas as pd
import pytest

from pipelines.reading import signals
from pipelines.reading.thinner import thinner
from pipelines.statistics.over_time import over_time

MONTHS = 24
OF = 200


def months(*, cold: tuple[int, int], unknown: tuple[int, int]) -> pd.DataFrame:
    """Twelve months one way and twelve another: how many are cold, how many not documented."""
    rows = [
        {
            "measure_id": "m",
            "month": pd.Timestamp("2024-01-01") + pd.DateOffset(months=at),
            "numerator": cold[at // 12] + at % 2,
            "counted": OF - unknown[at // 12],
            "denominator": OF,
            "not_documented": unknown[at // 12],
            "unusable": 0,
        }
        for at in range(MONTHS)
    ]
    return pd.DataFrame(rows)


def told(series: pd.DataFrame, missing: str = "left_out", direction: str = "lower") -> Any:
    over = {"m": over_time(series, kind="proportion", direction=direction)}
    moved = signals.moved(over).assign(missing=missing, direction=direction)
    return thinner(series, over, moved).iloc[0]


def test_fewer_cold_while_less_is_written_down_is_told_with_what_it_could_hide() -> None:
    """By hand: 10 of 200 unknown, then 30: 20 more a month. 5.5 cold of 170, or 25.5 of 190."""
    found = told(months(cold=(30, 5), unknown=(10, 30)))
    assert found["thinner_from"] == pd.Timestamp("2025-01-01")
    assert found["unknown_before"] == pytest.approx(10 / 200)
    assert found["unknown_since"] == pytest.approx(30 / 200)
    assert found["rate_if_poor"] == pytest.approx(25.5 / 190)


def test_where_higher_is_better_the_extra_ones_are_counted_as_not_met() -> None:
    found = told(months(cold=(100, 160), unknown=(10, 30)), direction="higher")
    assert found["rate_if_poor"] == pytest.approx(160.5 / 190)


@pytest.mark.parametrize(
    ("series", "missing"),
    [
        (months(cold=(30, 5), unknown=(10, 10)), "left_out"),  # as much is written down
        (months(cold=(30, 5), unknown=(30, 10)), "left_out"),  # more is
        (months(cold=(30, 5), unknown=(10, 11)), "left_out"),  # chance explains it
        (months(cold=(5, 30), unknown=(10, 30)), "left_out"),  # it got worse, not better
        (months(cold=(30, 5), unknown=(10, 30)), "not_met"),  # blanks are in the rate already
    ],
)
def test_nothing_is_told_where_charting_cannot_explain_it(
    series: pd.DataFrame, missing: str
) -> None:
    assert told(series, missing).drop("measure_id").isna().all()


def test_a_measure_without_a_chart_tells_nothing() -> None:
    series = months(cold=(30, 5), unknown=(10, 30))
    over = {"m": over_time(series, kind="proportion", direction="lower")}
    moved = signals.moved(over).assign(missing="left_out", direction="lower")
    assert thinner(series, {}, moved)["unknown_since"].isna().all()
    assert thinner(series, over, moved.head(0)).empty
