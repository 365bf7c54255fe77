"""How many newborns and months an effect takes: published examples, and simulation."""

import doctest
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from pipelines.statistics import effects, interrupted, power
from pipelines.statistics.power import Start
from tests.benchmark.change_truth import CARE, Kind, measure

from .cases import assert_agrees, case

YEAR = Start(before=0.72, newborns_a_month=240, months_before=18, apart=0.05, likeliest=0.0)


def test_examples_in_docstrings() -> None:
    assert doctest.testmod(power).failed == 0


def test_two_shares_as_in_r() -> None:
    """power.prop.test's own example, from memory: 76.7 a group; power .740 with 50."""
    one = case("samplesize_r_50_75")
    inputs = one["inputs"]
    shares = inputs["p1"], inputs["p2"]
    found = power.newborns_each(*shares, inputs["power"])
    said = brentq(lambda at: power.newborns_each(*shares, at) - 50, 0.5, 0.99)
    assert_agrees({"n_per_group": found, "power_at_50": said}, one)


def test_two_shares_with_the_continuity_correction() -> None:
    """Stata's sampsi 0.25 0.4, from memory: 216 a group (202.81 without the correction)."""
    one = case("samplesize_stata_25_40")
    inputs = one["inputs"]
    found = power.newborns_each_corrected(inputs["p1"], inputs["p2"], inputs["power"])
    assert_agrees({"n_per_group_cc": found}, one)
    plain = power.newborns_each(inputs["p1"], inputs["p2"], inputs["power"])
    assert plain == pytest.approx(202.81, abs=0.01)


def test_the_direction_does_not_matter_to_two_shares() -> None:
    assert power.newborns_each(0.3, 0.4) == pytest.approx(power.newborns_each(0.4, 0.3), rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "start"),
    [
        (Kind("5", CARE, 18, 18, care=(0.72, 0.77), births=240), YEAR),
        (Kind("10", CARE, 12, 12, care=(0.72, 0.82), births=60),
         Start(0.72, 60, 12, apart=0.1, likeliest=0.0)),
        (Kind("documented", CARE, 12, 12, care=(0.8, 0.88), known=(0.85, 0.85), births=240),
         Start(0.68, 240, 12, apart=0.06, likeliest=0.0)),
    ],
    ids=lambda one: one.name if isinstance(one, Kind) else "",
)  # fmt: skip
def test_series_power_is_what_drawn_series_give(kind: Kind, start: Start) -> None:
    """Against series drawn and judged as the page does it; 150 of them, 4 in 100 exact."""
    drawn = measure(kind, 150)["better_percent"] / 100
    points = (kind.care[1] - kind.care[0]) * kind.known[1]
    assert power.series_power(start, points, kind.after) == pytest.approx(drawn, abs=0.12)


def test_more_newborns_more_points_and_more_months_before_see_more() -> None:
    base = power.series_power(YEAR, 0.05, 12)
    for more in (replace(YEAR, newborns_a_month=480), replace(YEAR, months_before=30)):
        assert power.series_power(more, 0.05, 12) > base
    assert power.series_power(YEAR, 0.08, 12) > base
    assert power.series_power(replace(YEAR, apart=0.2, likeliest=0.2), 0.05, 12) < base


def test_months_needed_is_the_first_that_is_enough() -> None:
    wait = power.months_needed(YEAR, 0.10)
    assert wait is not None
    assert power.series_power(YEAR, 0.10, wait) >= power.POWER
    earlier = range(interrupted.FEWEST_MONTHS, wait)
    assert all(power.series_power(YEAR, 0.10, each) < power.POWER for each in earlier)


def test_months_before_that_make_a_year_enough() -> None:
    start = Start(0.72, 240, 12, apart=0.05)
    assert power.series_power(start, 0.06, 12) < power.POWER
    needed = power.months_before_needed(start, 0.06)
    assert needed is not None
    longer = replace(start, months_before=needed)
    assert power.series_power(longer, 0.06, effects.MONTHS) >= power.POWER


def test_what_no_wait_shows_is_said_so() -> None:
    tiny = Start(0.5, 10, 12)
    assert power.months_needed(tiny, 0.02) is None
    assert power.months_before_needed(tiny, 0.02) is None
    assert np.isfinite(power.series_power(tiny, 0.02, 12))
