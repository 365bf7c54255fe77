"""Partial pooling: the variance between groups as published, and shares nearer to the truth."""

import numpy as np
import pytest
from scipy import stats

from pipelines.statistics.intervals import wilson
from pipelines.statistics.pooled import pooled, shrunk
from tests.statistics.cases import case


def test_mean_and_variance_between_trials_are_near_the_published_ones() -> None:
    """BCG trials (Colditz 1994): tau squared 0.3088 by DerSimonian and Laird; the mean log risk
    ratio is -0.71 (metafor's documentation, from memory)."""
    one = case("dl_tau2_bcg")
    found = shrunk(one["inputs"]["effect"], one["inputs"]["variance"])
    assert 0.8 < found.tau2 / one["expected"]["tau2"] < 1.6
    assert found.mean == pytest.approx(-0.71, abs=0.02)


def test_effects_are_the_means_of_what_is_left_possible() -> None:
    """By brute force over mean, spread and each effect, none of it in closed form."""
    effect, variance = np.array([0.2, -1.0, 0.9, 0.1]), np.array([0.1, 0.3, 0.05, 0.6])
    found = shrunk(effect, variance)
    mean, spread = np.meshgrid(np.linspace(-8, 8, 1601), np.linspace(0, 2.5, 101), indexing="ij")
    weight = 1 / (1 + (spread / 1.0) ** 2)
    for one, chance in zip(effect, variance, strict=True):
        weight = weight * stats.norm.pdf(one, mean, np.sqrt(chance + spread**2))
    weight /= weight.sum()
    for place, (one, chance) in enumerate(zip(effect, variance, strict=True)):
        pull = chance / (chance + spread**2)
        middle = float((weight * ((1 - pull) * one + pull * mean)).sum())
        square = float(
            (weight * ((1 - pull) * chance + ((1 - pull) * one + pull * mean) ** 2)).sum()
        )
        assert found.effect[place] == pytest.approx(middle, abs=1e-4)
        assert found.variance[place] == pytest.approx(square - middle**2, abs=1e-4)
    assert found.tau2 == pytest.approx(float((weight * spread**2).sum()), abs=1e-4)


def test_a_small_group_borrows_much_and_a_large_one_little() -> None:
    found = pooled([1, 700, 850, 640], [2, 1000, 1000, 1000])
    assert found is not None
    assert found.borrowed[0] > 0.6 and (found.borrowed[1:] < 0.15).all()
    assert 0.5 < found.share[0] < 0.8
    assert ((found.lower < found.share) & (found.share < found.upper)).all()
    assert found.spread[1] > 0.03


def test_groups_that_differ_by_chance_alone_are_one() -> None:
    found = pooled([80, 81, 79, 8], [100, 100, 100, 10])
    assert found is not None
    middle, low, high = found.spread
    assert low == 0 and middle < 0.05 < high and (found.borrowed > 0.6).all()
    assert np.ptp(found.share) < 0.02


def test_an_interval_that_borrows_little_is_the_groups_own() -> None:
    """No wider than a share's own 95 % interval (Wilson), and a spread that shares can have."""
    found = pooled([100, 450, 800, 950], [1000, 1000, 1000, 1000])
    assert found is not None and (found.borrowed < 0.1).all()
    low, high = wilson(np.array([100, 450, 800, 950]), np.array([1000] * 4))
    assert (found.upper - found.lower < 1.06 * (high - low)).all()
    assert found.spread[2] < 0.5


def test_too_few_groups_or_nothing_that_can_differ_is_not_pooled() -> None:
    assert pooled([1, 2], [10, 10]) is None
    assert pooled([0, 0, 0], [10, 10, 10]) is None
    assert pooled([10, 10, 10], [10, 10, 10]) is None


def test_drawn_together_shares_lie_nearer_to_the_truth_and_their_intervals_hold_it() -> None:
    rng = np.random.default_rng(20261130)
    raw_error, own_error, held = [], [], []
    for _ in range(300):
        size = rng.integers(8, 120, 12)
        true = 1 / (1 + np.exp(-rng.normal(1.2, 0.4, 12)))
        some = rng.binomial(size, true)
        found = pooled(some, size)
        assert found is not None
        raw_error.append(((some / size - true) ** 2).mean())
        own_error.append(((found.share - true) ** 2).mean())
        held.append(((found.lower <= true) & (true <= found.upper)).mean())
    assert np.mean(own_error) < 0.7 * np.mean(raw_error)
    assert 0.90 < np.mean(held) < 0.98
