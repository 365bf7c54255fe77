"""The shipped rules hold what their measured numbers say."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from pipelines.statistics.false_alarms import measured
from tests.benchmark import false_alarms as benchmark

SERIES = 100
QUIET_SERIES = 300  # where a share of a fifth is held to a bound of a fifth
SIMULATION_ERROR = 0.001  # either tail, for a share measured twice
AGAIN = 7  # another seed than the file's


def agrees(found: float, written: float, series: int = SERIES) -> bool:
    """Return whether a share of few series fits one measured on many.

    Exact binomial tails, the written share moved by two of its own standard errors.
    """
    error = 2 * np.sqrt(max(written * (1 - written), 1e-3) / measured().about["series"])
    low = binom.ppf(SIMULATION_ERROR, series, max(written - error, 0)) / series
    high = binom.isf(SIMULATION_ERROR, series, min(written + error, 1)) / series
    return bool(low <= found <= high)


def test_the_numbers_were_measured_with_the_levels_that_ship() -> None:
    assert measured().about["levels"] == benchmark.levels_that_ship()
    assert measured().about["months"] == 24
    assert measured().about["series"] >= 1000


def test_with_nothing_going_on_few_charts_cry_wolf_whatever_the_months_are_like() -> None:
    """The promise of the page: with season and likeness 10 % in two years, 20 % in five."""
    table = measured().quiet
    asked = {"nothing at all", "a season of 3 points", "a season of 5 points"}
    assert asked | {"neighbouring months alike (0.3)"} <= set(table["months_are"])
    for column, bound in (("in_24_months", 0.10), ("in_60_months", 0.20)):
        holds(table[column], int(measured().about["series"]), bound)


def holds(shares: pd.Series, series: int, bound: float) -> None:
    """All rows together lie below the bound, and no row is above it by more than its error."""
    every = float(shares.mean())
    error = 2 * np.sqrt(every * (1 - every) / (series * len(shares)))
    assert every + error < bound
    each = 2 * np.sqrt(shares * (1 - shares) / series)
    assert (shares - each < bound).all() and (shares < 1.5 * bound).all()


def test_fewer_than_one_chart_in_ten_cries_wolf_at_every_size_of_unit() -> None:
    """Small, middle and large units at shares of 0.6 to 0.97."""
    table = measured().in_control
    assert set(table["births_a_month"]) == {20, 100, 350}
    assert (table["share"].min(), table["share"].max()) == (0.6, 0.97)
    holds(table["default"], int(measured().about["series"]), 0.10)
    assert (table["textbook"] > 0.10).any()  # why the textbook set does not ship


def test_charts_say_truly_what_chance_gives_now_and_how_surely_they_see_a_fall() -> None:
    quiet, fall = measured().quiet, measured().fall
    assert (np.abs(quiet["now"] - quiet["said_now"]) < 0.01).all()
    error = 3 * np.sqrt(0.25 / int(measured().about["series"]))  # of a share drawn so few times
    assert (np.abs(fall["default"] - fall["said"]) < error).all()
    assert np.abs((fall["default"] - fall["said"]).mean()) < 0.06


@pytest.mark.long
@pytest.mark.parametrize("row", [0, 2, 3])
def test_measured_again_the_quiet_charts_agree(row: int) -> None:
    written = measured().quiet.iloc[row]
    again = benchmark.quiet(benchmark.QUIETS[row], (AGAIN, row), QUIET_SERIES)
    assert again["months_are"] == written["months_are"]
    assert agrees(again["in_24_months"], written["in_24_months"], QUIET_SERIES)
    assert agrees(again["in_60_months"], written["in_60_months"], QUIET_SERIES)
    assert again["in_24_months"] < 0.10 and again["in_60_months"] < 0.20


@pytest.mark.long
@pytest.mark.parametrize("row", [0, 4, 8])
def test_measured_again_the_false_alarms_agree(row: int) -> None:
    written = measured().in_control.iloc[row]
    again = benchmark.in_control(
        int(written["births_a_month"]), float(written["share"]), (AGAIN, row), SERIES
    )
    assert agrees(again["default"], written["default"])
    assert agrees(again["textbook"], written["textbook"])
    assert again["default"] < 0.10 < again["textbook"]


@pytest.mark.long
def test_measured_again_the_detection_agrees() -> None:
    """A fall of ten points at 100 births a month, found within six months."""
    table = measured().fall
    (written,) = table[(table["births_a_month"] == 100) & (table["from_share"] == 0.7)].to_dict(
        "records"
    )
    again = benchmark.falls(100, 0.7, (AGAIN, 1), SERIES)
    assert agrees(again["default"], written["default"])
    assert written["default"] > 0.70
