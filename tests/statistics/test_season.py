"""What is expected of months, worked out for all at once: held to the same said plainly.

The plain way here is the definition, one point and one row of the grid after the other.
"""

from collections.abc import Iterator
from itertools import product

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipelines.statistics import counts, many, rules, runs, season
from pipelines.statistics.chance import Off, Share
from pipelines.statistics.charting import Asked, checked, checked_breaks, choose
from pipelines.statistics.expected import Expected, learn
from pipelines.statistics.phases import plan
from pipelines.statistics.season import Array, Design, Values
from tests.benchmark.false_alarms import draw


def learned(seed: int, births: float, number: int) -> tuple[Share, Expected]:
    chance, found, _ = charted(seed, births, np.where(np.arange(number) < number * 0.7, 0.8, 0.7))
    return chance, found


def charted(seed: int, births: float, share: Array) -> tuple[Share, Expected, pd.DataFrame]:
    """Draw the months of a chart; return what it has learned of them, and its points."""
    rng, number = np.random.default_rng(seed), len(share)
    months = checked(draw(rng, births, share, number, likeness=0.3), "proportion")
    no_breaks = checked_breaks(None)
    chart = choose(months, Asked("proportion", "higher", None, "births"), no_breaks, None)
    phases, _ = plan(chart.points["start_on"], no_breaks)
    chance = chart.learn(chart.points.head(12))
    assert isinstance(chance, Share)
    found = learn(chance, chart.points, phases, 0)
    assert found is not None
    return chance, found, chart.points


def plain_off(one: Expected, periods: int) -> Off:
    """Every run of neighbours by itself, from what is known when its last has come."""
    rows = []
    for end in range(periods, len(one.stage) + 1):
        known = one.seasons[one.stage[end - 1]]
        places = range(end - periods, end)
        weight = [one.sizes[place] / sum(one.sizes[each] for each in places) for place in places]
        shift = extra = shared = 0.0
        for w, place in zip(weight, places, strict=True):
            at = place + one.at
            shift += w * one.seasons[one.stage[place]].shift[at]
            shared += w * known.shared[at]
            for v, other in zip(weight, places, strict=True):
                extra += w * v * known.beyond[at, other + one.at]
        rows.append((shift, extra, shared, known.wider))
    return Off(*np.array(rows).reshape(-1, 4).T)


def same(one: Off, other: Off) -> None:
    for name in ("shift", "extra", "shared", "wider"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=1e-9, atol=1e-14)


@pytest.mark.parametrize("periods", [1, 6])
def test_what_is_expected_of_neighbours_is_what_their_weights_say(periods: int) -> None:
    _, found = learned(1, 60, 45)
    same(found.off(periods), plain_off(found, periods))
    # A part is known from the whole, and the same where it is asked first.
    part = found.part(9, 40)
    assert periods in part.known
    same(part.off(periods), plain_off(part, periods))
    same(learned(1, 60, 45)[1].part(9, 40).off(periods), part.off(periods))


def plain_shifts(chance: Share, periods: rules.Periods, one: Expected) -> list[rules.Found]:
    """Every run, point after point, each by what was known when that point had come."""
    off = one.off(1)
    signs = runs.sides(periods.values - chance.middles(periods.sizes, off), 0.0)
    below, above = chance.side_chances(periods.sizes, off)
    found = []
    for sign, first, last in runs.stretches(signs):
        each = above if sign > 0 else below
        for at in range(first + 3, last + 1):
            known = one.seasons[one.stage[at]]
            likely = rules.SHIFT_CHANCE * (8 if known.points < 24 else 1)
            alike = dict(zip(season.ALIKE, known.alike, strict=True))
            if runs.chances_in_a_row(each[:, first : at + 1], alike)[-1] < likely:
                named = "up" if sign > 0 else "down"
                found.append(rules.Found(rules.SHIFT, named, at, first, last))
                break
    return found


@pytest.mark.slow
def test_a_run_is_judged_at_each_point_by_what_was_known_when_it_came() -> None:
    by_latest = 0
    for seed in range(10, 50):
        chance, one, points = charted(seed, 60, np.where(np.arange(48) < 18, 0.8, 0.76))
        assert len(points) == len(one.stage)
        values, sizes = points["rate"].to_numpy(float), points["size"].to_numpy(float)
        periods = rules.Periods(values, values * sizes, sizes)
        wanted = plain_shifts(chance, periods, one)
        assert rules.shift(chance, periods, one) == wanted
        latest = np.full(len(one.stage), len(one.seasons) - 1)
        late = Expected(one.seasons, latest, one.at, one.sizes, {1: one.off(1)})
        by_latest += rules.shift(chance, periods, late) != wanted
    assert by_latest >= 3  # else no series of these could tell the two apart


def plain_covariances(variance: Array, grid: Array) -> Iterator[Array]:
    for width, alike, _ in grid:
        sd = np.sqrt(variance + width**2)
        apart = np.abs(np.subtract.outer(np.arange(len(sd)), np.arange(len(sd))))
        yield np.outer(sd, sd) * np.where(apart == 0, 1.0, alike**apart)


def plain_season(values: Values, design: Design, stop: int) -> tuple[Array, Array, Array]:
    """Return shift (level and all), covariance beyond sampling, and doubt in a run with likeness.

    Each row of the grid, with no step and with each step, is its own linear model; they are
    averaged by how well they explain the points.
    """
    waves = design.levels
    unknown = [*[100.0 * values.unit**2] * waves, *values.prior**2]
    grid, log_prior = season._grid(
        float(np.median(values.variance[:stop])),
        values.unit,
        bool(design.drift[:stop, :stop].any()),
    )
    known, y = design.columns[:stop], values.away[:stop]
    steps = design.steps(stop)
    logs, fits, doubts, of_row = [], [], [], []
    for row, about in enumerate(plain_covariances(values.heard(stop), grid)):
        base = about + grid[row, 2] ** 2 * design.drift[:stop, :stop]
        base = base + known @ np.diag(unknown) @ known.T
        for place in range(-1, steps.shape[1]):
            step = (
                steps[:, [max(place, 0)]] * (place >= 0) if steps.shape[1] else np.zeros((stop, 1))
            )
            whole = base + (season.STEP * values.unit) ** 2 * step @ step.T
            prior = 0.0
            if steps.shape[1]:
                prior = np.log(1 - season.STEPPED if place < 0 else season.STEPPED / steps.shape[1])
            fitted = stats.multivariate_normal(np.zeros(stop), whole).logpdf(y)
            logs.append(log_prior[row] + prior + fitted)
            pull = np.diag(unknown) @ known.T @ np.linalg.inv(whole)
            fits.append(pull @ y)
            doubts.append(np.diag(unknown) - pull @ known @ np.diag(unknown))
            of_row.append(row)
    weight = np.exp(np.array(logs) - max(logs))
    weight /= weight.sum()
    shift = design.columns[:, waves:] @ np.einsum("k,kc->c", weight, fits)[waves:]
    own = np.zeros(design.columns.shape)
    own[:, waves:], own[:, waves - 1] = design.columns[:, waves:], 1
    of_grid = np.bincount(of_row, weight, len(grid))
    shared = own @ np.einsum("k,kij->ij", weight, doubts) @ own.T
    about = np.einsum("g,gij->ij", of_grid, list(plain_covariances(values.variance, grid)))
    alike = np.array([of_grid[grid[:, 1] == each].sum() for each in season.ALIKE])
    in_a_run = [shared[at, max(0, at - 8) : at + 1].mean() for at in range(len(shared))]
    return shift, shared + about - np.diag(values.variance), np.array([*in_a_run, *alike])


@pytest.mark.parametrize("stop", [12, 24])
def test_a_season_is_the_average_of_every_model_of_the_grid(
    stop: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By scipy.stats.multivariate_normal, one model at a time."""
    taken = []
    kept = season.season_of

    def spy(values: Values, design: Design, known: int, level: Array) -> season.Season:
        taken.append((values, design, level))
        return kept(values, design, known, level)

    monkeypatch.setattr("pipelines.statistics.expected.season_of", spy)
    learned(2, 80, 30)
    values, design, level = taken[0]
    found = kept(values, design, stop, level)
    shift, beyond, others = plain_season(values, design, stop)
    np.testing.assert_allclose(found.shift, shift - level @ shift, atol=1e-8)
    np.testing.assert_allclose(found.beyond, beyond, atol=1e-7)
    np.testing.assert_allclose([*found.shared, *found.alike], others, atol=1e-7)


def test_chances_of_counts_are_the_beta_binomial_of_scipy() -> None:
    size = np.array([1, 7, 250, 40])
    alpha, beta = np.array([0.5, 3.0, 900.0, 0.02]), np.array([0.5, 1.0, 40.0, 3.0])
    table = counts.beta_binomial_cdf(size, alpha, beta)
    for row, wanted in enumerate(zip(size, alpha, beta, strict=True)):
        law = stats.betabinom(*wanted).cdf(np.arange(table.shape[1]))
        np.testing.assert_allclose(table[row], law, rtol=1e-8, atol=1e-13)


def test_chances_of_sides_are_binomial_where_a_count_lies_on_the_middle_too() -> None:
    size = np.array([10, 11, 20])
    rate = np.array([[0.5], [0.8]])
    under, upto = np.array([4.0, 5.0, -1.0]), np.array([5.0, 5.0, 0.0])
    below, above = counts.below_and_above(under, upto, size, rate)
    for (row, column), wanted in np.ndenumerate(stats.binom.cdf(under, size, rate)):
        assert below[row, column] == pytest.approx(wanted)
        beyond = stats.binom.sf(upto[column], size[column], rate[row, 0])
        assert above[row, column] == pytest.approx(beyond)


@pytest.mark.parametrize(("births", "is_fall"), [(25, True), (120, True), (60, False)])
def test_what_a_chart_sees_agrees_with_draws_of_its_own_law(births: int, is_fall: bool) -> None:
    """Level from its beta law, newborns binomial, limits one by one: 20,000 draws."""
    chance, found = learned(3, births, 30)
    said = many.sees(chance, found.sizes, found, is_fall)
    rng = np.random.default_rng(4)
    moved = -many.MOVE if is_fall else many.MOVE
    level = stats.beta.rvs(
        chance.numerator + 0.5, chance.counted - chance.numerator + 0.5,
        size=20_000, random_state=rng,
    )  # fmt: skip
    rate = np.clip(level + moved, 0, 1)[:, None]
    drawn = rng.binomial(found.sizes[-6:].astype(int), rate, (20_000, 6))
    seen = np.zeros(len(drawn), bool)
    for back, periods in [*product(range(6), [1]), (0, 6)]:
        ahead = found.ahead(6).part(0, 6 - back)
        (low,), (high,) = many._limits(chance, ahead.sizes, ahead, periods)
        total = drawn[:, 6 - back - periods : 6 - back].sum(axis=1)
        seen |= (total < low) if is_fall else (total > high)
    assert said == pytest.approx(seen.mean(), abs=0.03)


def test_a_rate_that_the_baseline_leaves_possible_is_a_quantile_of_its_beta_law() -> None:
    share, at = Share(960, 1200), np.array([0.01, 0.5, 0.99])
    np.testing.assert_allclose(share.rates(at), stats.beta(960.5, 240.5).ppf(at), rtol=1e-9)
    assert share.doubt == pytest.approx(1 / (1202 * 0.8 * 0.2), rel=0.01)
