"""Which measures moved: the signals that reach the last period, in words a page can say."""

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipelines import signal_words, signals, wording
from pipelines.statistics.over_time import OverTime

MONTHS = pd.date_range("2024-01-01", periods=24, freq="MS")
NO_CHANGES = pd.DataFrame({"measure_id": [], "start_on": pd.to_datetime([]), "kind": []})
NO_BIRTHS = pd.DataFrame({"measure_id": [], "month": [], "is_met": []})


def judged(
    shares: list[float], direction: str = "higher", changes: pd.DataFrame = NO_CHANGES, n: int = 100
) -> OverTime:
    series = pd.DataFrame(
        {
            "measure_id": "m",
            "month": MONTHS[: len(shares)],
            "numerator": np.round(np.array(shares) * n),
            "counted": n,
        }
    )
    info = pd.DataFrame({"measure_id": ["m"], "kind": ["proportion"], "direction": [direction]})
    return signals.judge(series, info, changes, NO_BIRTHS)["m"]


def told(one: OverTime) -> dict[str, Any]:
    (row,) = signals.moved({"m": one}).to_dict("records")
    return {str(name): value for name, value in row.items()}


STEADY = [0.8, 0.82, 0.79, 0.81, 0.78, 0.8, 0.83, 0.8, 0.77, 0.81, 0.8, 0.79]
SAME = STEADY + STEADY


@pytest.mark.parametrize(
    ("last", "direction", "moved", "change"),
    [
        (0.5, "higher", "lower", "worse"),
        (0.5, "lower", "lower", "better"),
        (0.5, "neither", "lower", "moved"),
        (0.99, "higher", "higher", "better"),
        (0.8, "higher", "same", "same"),
    ],
)
def test_a_month_outside_limits_is_a_signal(
    last: float, direction: str, moved: str, change: str
) -> None:
    row = told(judged([*SAME[:-1], last], direction))
    assert (row["moved"], row["change"]) == (moved, change)
    if change != "same":
        assert row["rule"] == "outside limits"
        assert row["since"] == MONTHS[-1]
        assert row["before_rate"] == pytest.approx(0.8, abs=0.005)
        assert row["strength"] > 3  # three standard deviations make the limit
        assert wording.moved_words(row).endswith("outside the limits of chance in Dec 25")


def test_a_signal_that_ended_is_not_news() -> None:
    ended = [*STEADY, 0.5, *STEADY[1:]]
    one = judged(ended)
    assert len(one.signals) and told(one)["change"] == "same"
    (line,) = signal_words.signal_lines(one)
    assert line == "outside the limits of chance, down, Jan 25 (worse)"


def test_neighbouring_months_outside_are_told_together() -> None:
    lines = signal_words.signal_lines(judged([*STEADY, 0.5, 0.52, 0.5, *STEADY[3:]]))
    assert "outside the limits of chance, down, Jan 25 to Mar 25 (worse)" in lines
    assert sum("outside the limits of chance" in line for line in lines) == 1


def test_few_points_are_not_compared() -> None:
    row = told(judged(SAME[:5]))
    assert row["change"] == "not_compared"
    assert math.isnan(row["strength"])
    assert any("Too few points" in one for one in signal_words.chart_words(judged(SAME[:5])))


def test_after_a_change_the_old_limits_still_speak() -> None:
    """The page must not lose an effect by beginning anew at the change."""
    changes = pd.DataFrame(
        {"measure_id": ["m"], "start_on": [pd.Timestamp("2025-01-01")], "kind": ["change"]}
    )
    better = [*STEADY, *[share + 0.15 for share in STEADY]]
    one = judged(better, changes=changes)
    assert len(one.phases) == 2
    lines = signal_words.signal_lines(one)
    assert any("against the limits before the change (better)" in line for line in lines)
    # Of twelve months the old limits still judge the last: it is told against the old rate.
    row = told(one)
    assert row["change"] == "better"
    assert row["before_rate"] == pytest.approx(0.8, abs=0.005)


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_what_never_varies_is_said_in_words(share: float) -> None:
    one = judged([share] * 24)
    assert told(one)["change"] in {"same", "not_compared"}
    text = " ".join(signal_words.chart_words(one))
    assert "happened" in text and "nan" not in text


def test_the_setting_says_what_was_measured() -> None:
    text = signal_words.setting_words(100)
    assert "at 100 births a month" in text
    assert "nan" not in text
