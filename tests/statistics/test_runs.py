"""Runs, crossings and trends against published limits and exact counting."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from pipelines.statistics import rules, runs
from pipelines.statistics.chance import Share
from tests.statistics import classical
from tests.statistics.cases import assert_agrees, case


def test_limits_of_longest_run_and_crossings() -> None:
    """Anhoj and Olesen 2014, table of limits; from memory."""
    one = case("runchart_anhoj_limits_s")
    useful = one["inputs"]["n"]
    actual = {
        "longest_run_upper": [runs.longest_run_limit(n) for n in useful],
        "crossings_lower": [runs.crossings_limit(n) for n in useful],
    }
    assert_agrees(actual, one)


def test_thirteen_points_with_five_crossings() -> None:
    """Wentzel-Larsen and Anhoj, worked sequence of 13 (read, not from memory)."""
    one = case("runchart_crossrun_13")
    values = np.array(one["inputs"]["sides"], float)
    counts = runs.runs_about(values, one["inputs"]["midline"])
    actual = {
        "useful": counts.useful,
        "crossings": counts.crossings,
        "longest_run": counts.longest_run,
        "signal": bool(rules.run_chart(values, 0.0)),
    }
    assert_agrees(actual, one)


def test_ties_neither_add_nor_break() -> None:
    """Conventions of Perla 2011, two independent codings (not from memory)."""
    one = case("runchart_rules_ties_s")
    values = np.array(one["inputs"]["x"], float)
    counts = runs.runs_about(values)
    actual = {
        "median": float(np.median(values)),
        "useful": counts.useful,
        "runs": counts.runs,
        "crossings": counts.crossings,
        "longest_run": counts.longest_run,
        "longest_trend": classical.longest_trend(values),
    }
    assert_agrees(actual, one)


def test_exact_critical_numbers_of_runs() -> None:
    """Exact null distribution, 2.5 % each tail, two independent codings (not from memory)."""
    one = case("runs_exact_limits_s")
    found = [classical.runs_critical(above, below) for above, below in one["inputs"]["n1_n2"]]
    actual = {
        "reject_if_runs_at_most": [few for few, _ in found],
        "reject_if_runs_at_least": [many for _, many in found],
    }
    assert_agrees(actual, one)


def test_critical_numbers_of_swed_and_eisenhart() -> None:
    """Swed and Eisenhart 1943, two-sided 5 %; from memory."""
    one = case("runs_swed_eisenhart_s")
    pairs = zip(one["inputs"]["n1"], one["inputs"]["n2"], strict=True)
    found = [classical.runs_critical(above, below) for above, below in pairs]
    actual = {
        "reject_if_runs_at_most": [few for few, _ in found],
        "reject_if_runs_at_least": [many for _, many in found],
    }
    assert_agrees(actual, one)


def test_runs_of_random_orders_are_as_rare_as_swed_and_eisenhart_say() -> None:
    """The pages' count of runs in 3,000 random orders, beyond the published critical numbers."""
    one = case("runs_swed_eisenhart_s")
    rng = np.random.default_rng(3)
    for place, half in enumerate(one["inputs"]["n1"]):
        points = np.repeat([1.0, -1.0], half)
        counted = np.array([runs.runs_about(rng.permutation(points), 0).runs for _ in range(3000)])
        few, many = (
            one["expected"][f"reject_if_runs_at_{end}"][place] for end in ("most", "least")
        )
        for beyond in (counted <= few, counted >= many):
            # At most 2.5 % by definition; by draw four standard errors of 3,000 orders more.
            assert beyond.mean() < 0.025 + 0.0115
        for nearer in (counted <= few + 1, counted >= many - 1):
            assert nearer.mean() > 0.025 - 0.0115


@pytest.mark.parametrize(("above", "below"), [(1, 1), (2, 3), (4, 3), (5, 1), (3, 0)])
def test_the_distribution_of_runs_equals_counting_every_order(above: int, below: int) -> None:
    """Every order of the points written out, its runs counted as the pages count them."""
    orders = set(permutations([1] * above + [-1] * below))
    counted = np.zeros(above + below + 1)
    for order in orders:
        counted[runs.runs_about(order, 0).runs] += 1
    got = np.zeros(above + below + 1)
    chances = classical.runs_distribution(above, below)
    got[: len(chances)] = chances
    assert got == pytest.approx(counted / len(orders))


@given(st.lists(st.integers(0, 9), min_size=1, max_size=40))
def test_runs_equal_a_walk_along_the_points(values: list[int]) -> None:
    """Independent: walked point by point, the median left out."""
    line = float(np.median(values))
    longest = length = crossings = last = 0
    for value in values:
        side = int(np.sign(value - line))
        if side == 0:
            continue
        if last and side != last:
            crossings, length = crossings + 1, 0
        length, last = length + 1, side
        longest = max(longest, length)
    counts = runs.runs_about(np.array(values, float))
    assert (counts.crossings, counts.longest_run) == (crossings, longest)
    assert counts.above + counts.below == counts.useful


@given(st.lists(st.integers(0, 9), min_size=2, max_size=30), st.floats(0.5, 20))
def test_runs_do_not_depend_on_the_unit_and_mirror(values: list[int], factor: float) -> None:
    plain = runs.runs_about(np.array(values, float))
    scaled = runs.runs_about(np.array(values, float) * factor)
    mirrored = runs.runs_about(-np.array(values, float))
    assert (plain.runs, plain.longest_run) == (scaled.runs, scaled.longest_run)
    assert (plain.above, plain.below) == (mirrored.below, mirrored.above)


def test_a_line_with_nearly_all_points_on_one_side_gives_no_run_chart_signal() -> None:
    """20 births at 97 %: most months at 100 % lie on the median, all others beneath it."""
    values = np.array([1.0] * 13 + [0.95, 0.9] * 6)
    counts = runs.runs_about(values)
    assert counts.useful == 12 and not counts.line_divides
    assert rules.run_chart(values, float(np.median(values))) == []


def test_a_long_run_and_few_crossings_are_found_with_their_points() -> None:
    values = np.array([3, 4, 3, 4, 4, 3, 4, 3, 9, 8, 9, 8, 9, 8, 9, 8.0])
    found = {one.rule: one for one in rules.run_chart(values, float(np.median(values)))}
    # 16 useful points: more than round(log2 16) + 3 = 7 in a row, fewer than 4 crossings.
    assert set(found) == {rules.LONGEST_RUN, rules.CROSSINGS}
    run = found[rules.LONGEST_RUN]
    assert (run.first, run.last, run.at, run.direction) == (8, 15, 15, "up")


def test_as_many_crossings_as_the_limit_are_chance() -> None:
    """16 useful points: fewer than 4 crossings signal (Anhoj and Olesen 2014), 4 do not."""
    four = np.array([3, 3, 3, 9, 9, 9, 3, 3, 3, 9, 9, 9, 9, 9, 3, 3.0])
    assert runs.runs_about(four, 6).crossings == 4 and rules.run_chart(four, 6) == []
    three = np.array([3, 3, 3, 3, 9, 9, 9, 9, 3, 3, 3, 3, 9, 9, 9, 9.0])
    assert [one.rule for one in rules.run_chart(three, 6)] == [rules.CROSSINGS]


def test_a_trend_needs_eight_points_and_names_them() -> None:
    """Equal neighbours count once; the rule speaks at the eighth point."""
    seven = np.array([5, 1, 2, 3, 3, 4, 5, 6, 7, 0.0])
    assert rules.trend(seven) == []
    eight = np.array([5, 1, 2, 3, 3, 4, 5, 6, 7, 7, 8, 9, 0.0])
    (found,) = rules.trend(eight)
    assert (found.first, found.at, found.last, found.direction) == (1, 10, 11, "up")
    (mirrored,) = rules.trend(-eight)
    assert mirrored.direction == "down"


def periods(met: list[int], births: int) -> rules.Periods:
    numerator = np.array(met, float)
    sizes = np.full(len(met), float(births))
    return rules.Periods(numerator / sizes, numerator, sizes)


def test_a_shift_needs_more_points_where_one_side_is_likelier() -> None:
    """Known truth (a vast baseline): chance of a run is the product of its points' chances.

    At 50 % of 101 births either side has 0.5, and 0.5^10 is the first below 1/1000. At 97 % of 20
    births a month lies above the centre (20 of 20) with 0.97^20 = 0.544: twelve are needed.
    """
    fair = Share(5e6, 1e7)
    assert rules.shift(fair, periods([40] * 9, 101)) == []
    (found,) = rules.shift(fair, periods([40] * 10, 101))
    assert (found.at, found.direction) == (9, "down")
    uneven = Share(9.7e6, 1e7)
    assert rules.shift(uneven, periods([20] * 11, 20)) == []
    assert rules.shift(uneven, periods([20] * 12, 20))[0].direction == "up"
    assert rules.shift(uneven, periods([19] * 9, 20))[0].at == 8


def test_a_shift_needs_more_points_where_the_baseline_is_short() -> None:
    """The centre of 6 months may sit off the truth, and then runs are common."""
    long, short = Share(60e4, 80e4), Share(450, 600)
    below = periods([70] * 24, 100)
    assert rules.shift(short, below)[0].at > rules.shift(long, below)[0].at


def test_points_on_the_line_neither_add_to_a_shift_nor_break_it() -> None:
    """Of 100 births 46 % of months lie below one half: the ninth month off the line speaks."""
    fair = Share(5e6, 1e7)
    (found,) = rules.shift(fair, periods([40] * 4 + [50] * 3 + [40] * 5, 100))
    assert (found.first, found.at, found.last) == (0, 11, 11)


def test_six_together_is_told_only_where_no_single_month_tells_it() -> None:
    """80, then five times 72 of 100: 73.3 % of 600 after 80 % of 1200 is 3.3 sigma down."""
    baseline = Share(960, 1200)
    slow = periods([80, 81, 79, 80] + [72] * 6, 100)
    (found,) = rules.together(baseline, slow)
    assert (found.first, found.last, found.direction) == (3, 9, "down")
    sudden = periods([80, 81, 79, 80, 80, 20, 80, 79, 81, 80], 100)
    assert rules.outside(baseline, sudden) and rules.together(baseline, sudden) == []


def test_months_that_are_alike_ask_for_a_longer_run() -> None:
    """A first-order Markov chain on one side: 0.5 * (0.5 + arcsin(rho) / pi) ** k (Sheppard)."""
    half = np.full((1, 12), 0.5)
    stay = 0.5 + np.arcsin(0.3) / np.pi
    found = runs.chances_in_a_row(half, {0.3: 1.0})
    np.testing.assert_allclose(found, 0.5 * stay ** np.arange(12), rtol=1e-4)
    np.testing.assert_allclose(runs.chances_in_a_row(half, {0.0: 1.0}), 0.5 ** np.arange(1, 13))


@pytest.mark.parametrize(("first", "second", "alike"), [(0.2, 0.7, 0.4), (0.05, 0.05, 0.6)])
def test_two_that_are_alike_are_beyond_together_as_scipy_says(
    first: float, second: float, alike: float
) -> None:
    limits = stats.norm.isf([first, second])
    law = stats.multivariate_normal([0, 0], [[1, alike], [alike, 1]])
    both = float(runs.both_beyond(np.array(first), np.array(second), alike))
    assert both == pytest.approx(float(law.cdf(-limits)), abs=2e-6)
