"""Kaplan-Meier and log-rank against textbooks, R, and two libraries."""

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import CensoredData, ecdf, logrank
from statsmodels.stats.proportion import proportion_confint

from pipelines.statistics import survival

from .cases import assert_agrees, case


def test_the_textbook_example_of_remission() -> None:
    """Freireich 1963 as tabulated in survival textbooks (Kleinbaum; Collett; from memory)."""
    one = case("km_freireich_6mp")
    inputs = one["inputs"]
    drug = (inputs["time"], inputs["observed"])
    other = (inputs["placebo_time"], [1] * len(inputs["placebo_time"]))
    found, placebo = survival.curve(*drug), survival.curve(*other)
    assert_agrees(
        {
            "event_times": found.steps["time"].tolist(),
            "survival": found.steps["survival"].tolist(),
            "greenwood_se": found.steps["se"].tolist(),
            "median": found.median,
            "placebo_median": placebo.median,
            "logrank_chi2": survival.compare({"drug": drug, "placebo": other}).chi2,
        },
        one,
    )
    assert (found.newborns, found.events) == (21, 9)


def test_log_log_limits_are_those_of_r() -> None:
    """Computed with R survival 3.5-3, survfit conf.type = log-log."""
    one = case("km_freireich_6mp_loglog_ci")
    inputs = one["inputs"]
    steps = survival.curve(inputs["time"], inputs["observed"], inputs["level"]).steps
    names = {"survival": "survival", "lcl": "lower", "ucl": "upper"}
    assert_agrees({name: steps[column].tolist() for name, column in names.items()}, one)


def test_minutes_to_the_first_temperature() -> None:
    """Random minutes with ties and with a watch ending in an event's minute; R survival 3.5-3."""
    one = case("km_time_to_first_temperature_s")
    inputs = one["inputs"]
    found = survival.curve(inputs["minutes"], inputs["observed"], inputs["level"])
    steps, by_60 = found.steps, survival.reached(found, 60)
    assert by_60 is not None
    assert_agrees(
        {
            "times": steps["time"].tolist(),
            "n_risk": steps["at_risk"].tolist(),
            "n_event": steps["events"].tolist(),
            "survival": steps["survival"].tolist(),
            "greenwood_se": steps["se"].tolist(),
            "lcl_loglog": steps["lower"].tolist(),
            "ucl_loglog": steps["upper"].tolist(),
            "median": found.median,
            "cum_incidence_by_60": by_60[0],
            "cum_incidence_by_60_lcl": by_60[1],
            "cum_incidence_by_60_ucl": by_60[2],
        },
        one,
    )


GROUP = st.lists(st.tuples(st.integers(0, 90), st.booleans()), min_size=1, max_size=40)


@settings(max_examples=60, deadline=None)
@given(GROUP)
def test_any_curve_is_the_libraries_and_keeps_its_promises(rows: list[tuple[int, bool]]) -> None:
    """Against scipy.stats.ecdf with right-censored data."""
    times, seen = np.array([row[0] for row in rows], float), np.array([row[1] for row in rows])
    found = survival.curve(times, seen)
    if not seen.any():
        assert found.reason == survival.NO_EVENT
        return
    theirs = ecdf(CensoredData.right_censored(times, ~seen)).sf
    assert found.steps["survival"].to_numpy() == pytest.approx(theirs.evaluate(found.steps["time"]))
    steps = found.steps
    assert (steps["survival"].diff().dropna() < 1e-12).all()
    bounded = steps.dropna()
    assert (bounded["lower"] <= bounded["survival"] + 1e-12).all()
    assert (bounded["survival"] <= bounded["upper"] + 1e-12).all()
    assert survival.at_risk(times, steps["time"].tolist()) == steps["at_risk"].tolist()


@settings(max_examples=40, deadline=None)
@given(GROUP, GROUP)
def test_log_rank_of_two_is_scipys(
    first: list[tuple[int, bool]], second: list[tuple[int, bool]]
) -> None:
    """Against scipy.stats.logrank: its statistic is the root of the chi-squared one."""
    groups = [([row[0] for row in rows], [row[1] for row in rows]) for rows in (first, second)]
    found = survival.compare({"a": groups[0], "b": groups[1]})
    if found.chi2 is None:
        assert found.reason
        return
    data = [CensoredData.right_censored(t, [not one for one in seen]) for t, seen in groups]
    theirs = logrank(*data)
    assert found.chi2 == pytest.approx(float(theirs.statistic) ** 2, abs=1e-8)
    assert found.p_value == pytest.approx(float(theirs.pvalue), abs=1e-8)


def test_without_censoring_the_curve_is_the_plain_share() -> None:
    times, seen = [5, 10, 10, 40, 61], [1, 1, 1, 1, 1]
    found = survival.curve(times, seen)
    by_40, plain = survival.reached(found, 40), survival.share_by(times, seen, 40)
    assert by_40 is not None and plain is not None
    assert by_40[0] == pytest.approx(plain[0] / plain[1]) == 0.8
    assert plain[2:] == pytest.approx(proportion_confint(4, 5, method="wilson"))
    assert survival.reached(found, 4) == (0, 0, 0)
    assert survival.reached(found, 61) == (1, 1, 1)
    assert found.steps.iloc[-1][["lower", "upper"]].isna().all()


def test_whoever_is_undocumented_counts_in_the_plain_share() -> None:
    """Ten had it by 60, ten were watched to 30 only: the curve says all, the plain share half."""
    times, seen = [20] * 10 + [15] * 10, [1] * 10 + [0] * 10
    curve = survival.reached(survival.curve(times, seen), 60)
    plain = survival.share_by(times, seen, 60)
    assert curve is not None and curve[0] == 1
    assert plain is not None and plain[:2] == (10, 20)


@pytest.mark.filterwarnings("error")
def test_nobody_everybody_and_everything_censored() -> None:
    nobody, hidden = survival.curve([], []), survival.curve([30, 60], [0, 0])
    assert (nobody.reason, nobody.median, len(nobody.steps)) == (survival.NOBODY, None, 0)
    assert (hidden.reason, hidden.median, hidden.newborns) == (survival.NO_EVENT, None, 2)
    assert survival.reached(nobody, 60) is None
    assert survival.reached(hidden, 60) == (0, 0, 0)
    assert survival.share_by([], [], 60) is None
    one = survival.curve([7], [1])
    assert (one.median, one.steps["survival"].tolist()) == (7, [0])
    few_seen = survival.curve([5, 60, 60], [1, 0, 0])
    assert few_seen.median is None


@pytest.mark.filterwarnings("error")
def test_a_comparison_that_cannot_be_made_says_why() -> None:
    some, empty, hidden = ([5, 9], [1, 1]), ([], []), ([5, 9], [0, 0])
    assert survival.compare({"a": some, "b": empty}).reason == survival.ONE_GROUP
    assert survival.compare({"a": empty}).reason == survival.NOBODY
    assert survival.compare({"a": hidden, "b": hidden}).reason == survival.NO_EVENT
    never_beside = survival.compare({"a": ([1], [0]), "b": ([5, 9], [1, 1])})
    assert never_beside.p_value is None and never_beside.reason == survival.NEVER_TOGETHER


@pytest.mark.parametrize("times", [[math.nan, 1], [-1, 1], [1]])
def test_what_is_no_time_is_refused(times: Any) -> None:
    with pytest.raises(ValueError, match=r"minutes from nought|one for each"):
        survival.curve(times, [1, 0])


def test_three_groups_are_compared_at_once() -> None:
    rng = np.random.default_rng(3)
    same = {name: (rng.exponential(30, 80), np.ones(80)) for name in "abc"}
    apart = {**same, "c": (rng.exponential(70, 80), np.ones(80))}
    assert survival.compare(same).groups == 3
    assert (survival.compare(apart).p_value or 1) < 0.001
    assert isinstance(survival.curve(*same["a"]).steps, pd.DataFrame)
