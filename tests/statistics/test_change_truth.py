"""What the page claims of its verdict on a change holds on series drawn again.

A smaller part of tests/benchmark/change_truth.py, and the table that it wrote.
"""

import tomllib
from typing import Any

import pytest

from tests.benchmark.change_truth import (
    CARE,
    HOME,
    SEED,
    Bound,
    Kind,
    failures,
    kinds,
    measure,
)

AT_LEAST = 1000  # series of a kind: the error of a share of 3 % is then half a point
DRAWN = 60


@pytest.fixture(scope="module")
def kept() -> dict[str, dict[str, Any]]:
    rows = tomllib.loads(HOME.read_text(encoding="utf-8"))["cells"]
    return {row["name"]: row for row in rows}


def test_the_kept_table_is_of_these_kinds(kept: dict[str, dict[str, Any]]) -> None:
    assert [(one.name, one.truth, one.bound.words()) for one in kinds()] == [
        (row["name"], row["truth"], row["bound"]) for row in kept.values()
    ]
    assert all(row["series"] >= AT_LEAST for row in kept.values())


def test_the_kept_table_keeps_its_bounds(kept: dict[str, dict[str, Any]]) -> None:
    broken = [each for one in kinds() for each in failures(kept[one.name], one.bound)]
    assert not broken


def test_a_broken_bound_is_noticed() -> None:
    row = {"name": "a", "better_percent": 4.0, "worse_percent": 60.0, "held_percent": 90.0}
    bound = Bound(better_at_most=3, worse_at_least=70, held_at_least=93)
    assert len(failures(row, bound)) == 3
    assert failures(row, bound, slack=10) == []
    assert failures({**row, "planned_percent": 12.0}, Bound(plan_off_at_most=5))


def some() -> list[Kind]:
    """One kind of each claim: charting alone, hidden harm, drift, degrees, points."""
    wanted = ("documentation rises", "care falls", "drift of 0.6", "0.12 degrees", "10 points, 10")
    return [next(one for one in kinds() if one.name.startswith(each)) for each in wanted]


@pytest.mark.long
@pytest.mark.parametrize("kind", some(), ids=lambda one: one.name)
def test_a_part_drawn_again_says_the_same(kind: Kind, kept: dict[str, dict[str, Any]]) -> None:
    """Other series than the table's: no further from it than chance allows, nor from the bound."""
    row, told = measure(kind, DRAWN, seed=SEED + 1), kept[kind.name]
    for name in ("better_percent", "worse_percent", "held_percent"):
        error = max(told[name] * (100 - told[name]) / DRAWN, 100 / DRAWN) ** 0.5
        assert abs(row[name] - told[name]) <= 4 * error, (name, row[name], told[name])
    if kind.truth != CARE:
        assert row["better_percent"] <= 3 + 8  # of 60, three standard errors
