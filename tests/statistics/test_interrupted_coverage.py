"""The interval holds the truth about as often as it says, on series whose effect is known.

A smaller seeded part of tests/benchmark/change_coverage.py, and the table that it wrote.
"""

import tomllib

import numpy as np
import pytest
from scipy import stats

from pipelines.statistics import effects, interrupted
from tests.benchmark.change_coverage import HOME, SEED, draw, measure, settings

SERIES = 60
MAIN = [one for one in settings() if one.is_main and one.months == 24]


@pytest.fixture(scope="module")
def kept() -> list[dict[str, float]]:
    rows: list[dict[str, float]] = tomllib.loads(HOME.read_text(encoding="utf-8"))["settings"]
    return rows


def test_the_kept_table_is_of_these_settings(kept: list[dict[str, float]]) -> None:
    names = ("name", "effect_points", "dispersion", "season_points", "is_main")
    told = [tuple(row[name] for name in names) for row in kept]
    assert told == [
        (one.name, round(100 * one.effect, 1), one.dispersion, round(100 * one.season, 1),
         one.is_main)
        for one in settings()
    ]  # fmt: skip
    assert all(row["series"] >= 500 for row in kept)


def test_the_kept_table_keeps_its_promise(kept: list[dict[str, float]]) -> None:
    """With and without overdispersion and season: 92 to 98 %, and at most 5 % false alarms."""
    main = [row for row in kept if row["is_main"]]
    assert {row["effect_points"] for row in main} == {0, 5, 10, 15}
    assert all(92 <= row["held_percent"] <= 98 for row in main)
    assert all(row["fitted"] == row["series"] for row in main)
    none = [row for row in main if row["effect_points"] == 0]
    assert all(row["worked_percent"] <= 5 and row["worsened_percent"] <= 5 for row in none)


@pytest.mark.long
def test_a_smaller_part_measured_again_holds_the_truth() -> None:
    """All sixteen settings of 24 months: 960 series, and 240 in which nothing happened."""
    rows = [measure(one, SERIES, seed=SEED + 1) for one in MAIN]
    assert 0.92 <= np.mean([row.held for row in rows]) <= 0.98
    none = [row.worked for row in rows if row.setting.effect == 0]
    assert np.mean(none) <= 0.05
    most = [row.worked for row in rows if row.setting.effect == 0.15]
    assert np.mean(most) > 0.7  # a test that says no to everything would pass the two above


@pytest.mark.slow
def test_newey_west_errors_alone_would_not_do() -> None:
    """Why the wider of two is taken: alone, with t, they hold the truth in under 90 %."""
    held = []
    one = next(each for each in MAIN if each.effect == 0.10 and each.dispersion > 1)
    rng = np.random.default_rng(SEED)
    for _ in range(150):
        series, split, truth = draw(one, rng)
        fit = interrupted.fit(series, split)
        gradient = effects._gradient(fit, effects.MONTHS)
        half = stats.t.ppf(0.975, fit.degrees_of_freedom) * np.sqrt(gradient @ fit.hac @ gradient)
        held.append(abs(effects.effect(fit).points.guess - truth) <= half)
    assert np.mean(held) < 0.90
