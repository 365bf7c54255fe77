"""Which measures moved: the signals that reach the last period, in words a page can say."""

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipelines.drawing import over_periods, theme
from pipelines.pages.review import first_screen as sentences
from pipelines.pages.review import read as review
from pipelines.reading import signals
from pipelines.statistics import false_alarms
from pipelines.statistics.over_time import OverTime
from pipelines.words import of_measures as wording
from pipelines.words import of_numbers, of_signals
from tests.conftest import Built

MONTHS = pd.date_range("2024-01-01", periods=24, freq="MS")
NO_CHANGES = pd.DataFrame({"measure_id": [], "start_on": pd.to_datetime([]), "kind": []})
NO_BIRTHS = pd.DataFrame({"measure_id": [], "month": [], "is_met": []})


def judged(
    shares: list[float], direction: str = "higher", changes: pd.DataFrame = NO_CHANGES, n: int = 100
) -> OverTime:
    series = pd.DataFrame(
        {
            "measure_id": "m",
            "month": pd.date_range(MONTHS[0], periods=len(shares), freq="MS"),
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
    one = judged([*SAME[:-1], last], direction)
    row = told(one)
    assert (row["moved"], row["change"]) == (moved, change)
    if change != "same":
        assert row["rule"] == "outside limits"
        assert row["since"] == MONTHS[-1]
        assert row["before_rate"] == pytest.approx(0.8, abs=0.005)
        point = one.points.iloc[-1]
        limit = point["lower_limit"] if last < 0.8 else point["upper_limit"]
        # With one year known limits stand for the deviations of a tail four times 8 in 10,000.
        away = stats.norm.isf(0.0032) * (last - point["centre"]) / (limit - point["centre"])
        assert row["strength"] == pytest.approx(away)
        assert away > 3
        assert wording.moved_words({**row, "rate": last}).endswith(
            "outside the limits of chance in Dec 25"
        )


def test_a_signal_that_ended_is_not_news() -> None:
    ended = [*STEADY, 0.5, *STEADY[1:]]
    one = judged(ended)
    assert len(one.signals) and told(one)["change"] == "same"
    (line,) = of_signals.signal_lines(one)
    assert line == "outside the limits of chance, down, Jan 25 (worse)"


def test_neighbouring_months_outside_are_told_together() -> None:
    lines = of_signals.signal_lines(judged([*STEADY, 0.5, 0.52, 0.5, *STEADY[3:]]))
    assert "outside the limits of chance, down, Jan 25 to Mar 25 (worse)" in lines
    assert sum("outside the limits of chance" in line for line in lines) == 1


def test_few_points_are_not_compared() -> None:
    row = told(judged(SAME[:5]))
    assert row["change"] == "not_compared"
    assert math.isnan(row["strength"])
    assert any("Too few points" in one for one in of_signals.chart_words(judged(SAME[:5])))


def test_after_a_change_the_old_limits_still_speak() -> None:
    """The page must not lose an effect by beginning anew at the change."""
    changes = pd.DataFrame(
        {"measure_id": ["m"], "start_on": [pd.Timestamp("2025-01-01")], "kind": ["change"]}
    )
    better = [*STEADY, *[share + 0.15 for share in STEADY]]
    one = judged(better, changes=changes)
    assert len(one.phases) == 1
    assert any("(better)" in line for line in of_signals.signal_lines(one))
    row = told(one)
    assert row["change"] == "better"
    assert row["before_rate"] == pytest.approx(0.8, abs=0.005)


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_what_never_varies_is_said_in_words(share: float) -> None:
    one = judged([share] * 24)
    assert told(one)["change"] in {"same", "not_compared"}
    text = " ".join(of_signals.chart_words(one))
    assert "happened" in text and "nan" not in text


def test_the_setting_says_what_was_measured() -> None:
    charts = {"m": judged([*STEADY, *STEADY])}
    text = of_signals.setting_words(charts)
    assert "within 24 months" in text and "within 60" in text
    assert re.search(r"seen within 6 months in \d+ of 100 cases", text)
    assert "nan" not in text and "nan" not in of_signals.setting_words({})


def test_luck_is_said_of_now_and_of_the_charts_at_hand() -> None:
    """Of 41 charts about 0.3 show a signal now by chance, where two years' worth were said."""
    one = judged([*STEADY, *STEADY])
    assert 0 < one.now_by_chance < 0.02
    words = of_signals.luck_words({str(place): one for place in range(41)})
    assert "now among 41 measures" in words and "two years" not in words
    alike = 41 * false_alarms.measured().quiet["now"].max()  # the row of likeness, as measured
    assert f"({alike:.1f} where months are like their neighbours)" in words
    assert of_signals.luck_words({}) == ""


def rare(last_gap: int) -> OverTime:
    """Events of harm 100 births apart, give or take, then none for ``last_gap`` births and one."""
    chance = np.random.default_rng(5)
    gaps = [*chance.geometric(1 / 100, 40), last_gap]
    is_met = np.concatenate([[*([False] * (gap - 1)), True] for gap in gaps])
    months = pd.date_range("2016-01-01", periods=96, freq="MS")
    births = pd.DataFrame(
        {
            "measure_id": "m",
            "month": months[(np.arange(len(is_met)) * 96 // len(is_met))],
            "is_met": is_met,
        }
    )
    by_month = births.groupby("month")["is_met"].agg(numerator="sum", counted="size")
    series = by_month.reset_index().assign(measure_id="m")
    info = pd.DataFrame({"measure_id": ["m"], "kind": ["proportion"], "direction": ["lower"]})
    return signals.judge(series, info, NO_CHANGES, births)["m"]


def test_of_a_rare_harm_a_long_gap_is_rarer_and_better() -> None:
    """The chart runs from event to event: up is good for a harm, and no percent is said of it."""
    one = rare(2000)
    assert (one.chart_kind, one.period_kind) == ("g", "gap")
    row = {**told(one), "rate": 0.0}
    assert (row["moved"], row["change"]) == ("rarer", "better")
    words = wording.moved_words(row)
    assert words.startswith("rarer than before: outside the limits of chance")
    assert "%" not in words
    assert told(rare(100))["change"] == "same"
    assert "%" not in wording.change_sentence(
        {**told(rare(100)), "rate": 0.01, "life_by_sum": False}
    )


def test_what_got_worse_is_told_before_what_got_better() -> None:
    one = judged([*SAME[:-1], 0.99])
    (better,) = one.signals[one.signals["last_period"] == 24].to_dict("records")
    worse = {**better, "rule": "trend", "sense": "worse", "direction": "down", "first_period": 18}
    both = replace(one, signals=pd.DataFrame([better, worse]))
    row = told(both)
    assert (row["change"], row["rule"], row["moved"]) == ("worse", "trend", "lower")


def test_a_run_says_its_own_share() -> None:
    """The month may look like the baseline while the run about it does not."""
    one = judged([*STEADY, *[0.86] * 14, 0.81], n=200)
    row = told(one)
    assert row["rule"] == "shift"
    assert row["run_rate"] == pytest.approx((14 * 0.86 + 0.81) / 15, abs=1e-9)
    assert "86 % on average, a run on one side" in wording.moved_words(row).replace("\xa0", " ")


def test_the_chart_of_gaps_draws_each_and_marks_the_signal() -> None:
    theme.use()
    one = rare(2000)
    chart = over_periods.over_periods(one, {"title": "Harm"}).to_dict()
    sets = [pd.DataFrame(rows) for rows in chart["datasets"].values()]
    drawn = next(rows for rows in sets if "Value" in rows)
    assert drawn["value"].tolist() == one.points["rate"].round(1).tolist()
    assert drawn["high"].notna().all() and (drawn["low"] <= drawn["high"]).all()
    marks = [layer["mark"].get("shape") for layer in chart["layer"]]
    assert "diamond" in marks
    marked = next(rows for rows in sets if set(rows) == {"period", "value"})
    assert marked["period"].tolist() == one.signals["period"].tolist()
    assert "Harm: one such newborn after the other" in chart["description"]


def test_a_change_that_names_a_file_of_bands_touches_each_band(clean: Built) -> None:
    data = review.read_review(clean.store, "quillmere")
    named = data.changes[data.changes["kind"] == "change"]["measure_id"]
    bands = data.measures.loc[data.measures["parent_id"] == "arrival_cold", "measure_id"]
    assert len(bands) > 2
    assert set(bands) <= set(named)
    assert not named.duplicated().any()


def test_strength_is_in_standard_deviations_of_the_chart_s_own_limits() -> None:
    """A month on its limit is as strong as the normal law says of the tail of that limit.

    scipy.stats.norm: 3.16 at 8 in 10,000, 2.73 at four times that while one year is known.
    """
    assert stats.norm.isf(0.0008) == pytest.approx(3.16, abs=0.005)
    frame = judged([*STEADY, *STEADY, 0.5], n=400)
    points = frame.points
    for place, wanted in ((20, stats.norm.isf(0.0032)), (24, stats.norm.isf(0.0008))):
        lower = float(points["lower_limit"].iloc[place])
        signal = pd.Series({"first_period": place + 1, "last_period": place + 1})
        moved = points.assign(rate=points["rate"].where(points["period"] != place + 1, lower))
        strength = signals._strength(replace(frame, points=moved), signal)
        assert strength == pytest.approx(wanted)


def test_a_limit_that_ends_at_all_does_not_make_a_signal_strong() -> None:
    """At 97 % of 60 newborns all is a bit above the middle, and 1.4 standard deviations by chance.

    The upper limit ends at 100 %: taken for where chance ends it would make three of them.
    """
    met = [58, 59, 58, 57, 59, 58, 58, 59, 57, 59, 58, 58]
    one = judged([each / 60 for each in [*met, *met, 60]], n=60)
    assert one.points["upper_limit"].iloc[-1] == 1.0
    signal = pd.Series({"first_period": 25, "last_period": 25})
    by_chance = (1 - 0.97) / np.sqrt(0.97 * 0.03 / 60)
    assert signals._strength(one, signal) < 1.2 * by_chance


def test_a_signal_counts_less_among_many_measures_and_the_plainest_stands_first() -> None:
    quiet, fell, slid = (judged([*STEADY, *STEADY[:-1], last], n=400) for last in (0.8, 0.3, 0.69))
    few = signals.moved({"fell": fell, "slid": slid})
    among = signals.moved({"fell": fell, "slid": slid, **dict.fromkeys(map(str, range(38)), quiet)})
    both = among["measure_id"].isin(["fell", "slid"])
    assert among.loc[~both, "by_luck"].isna().all()
    assert (among.loc[both, "by_luck"].to_numpy() > 10 * few["by_luck"].to_numpy()).all()
    assert sentences.strongest(among)["measure_id"].tolist() == ["fell", "slid"]
    assert of_signals.share_by_luck(float("nan")) == of_numbers.NONE
