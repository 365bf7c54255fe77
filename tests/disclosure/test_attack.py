"""The masked table is attacked with everything that adds up; nothing small may be found.

Threshold 11: no count of 1 to 10 may be shown or derived (cell size suppression policy of the
US Centers for Medicare & Medicaid Services, 2024-01-26).
"""

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipelines.release.masking import Rule, protect
from pipelines.release.rows import newborn_rows
from pipelines.release.sums import NEWBORNS
from tests.disclosure.attacker import Attacker
from tests.disclosure.tables import PARTS, at_random, base_row, with_sums

K = 11
CALENDAR = [("quarter", 3, 3), ("all", 6, 1)]
ROLLING = [*CALENDAR, ("rolling", 3, 1)]
ATTACKED = 30  # small counts attacked in one table, drawn at random


def attacked(
    base: pd.DataFrame,
    windows: list[tuple[str, int, int]],
    seed: int,
    is_complementary: bool = True,
) -> list[tuple[int, int]]:
    """Mask a table, attack it, and return the ranges found of its small counts."""
    rows = with_sums(base, windows)
    table = pd.concat([rows, newborn_rows(rows)], ignore_index=True)
    masked = protect(table, Rule(K), is_complementary=is_complementary)
    assert masked.is_safe
    kept = (table["measure_id"] != NEWBORNS).to_numpy()
    attacker = Attacker(rows, base, masked.hidden[kept])
    small = attacker.small(K)
    chance = np.random.default_rng(seed)
    chosen = chance.permutation(len(small))[:ATTACKED]
    return [attacker.range_of(*small[place]) for place in chosen]


def lucky(seed: int, births: float, strata: int, is_left_out: bool) -> pd.DataFrame:
    base = at_random(np.random.default_rng(seed), 2, 6, strata, births)
    # Two measures of the same newborns: the second takes the population of the first.
    first, second = (base[base["measure_id"] == name] for name in ("m0", "m1"))
    moved = second.copy().reset_index(drop=True)
    gap = first[PARTS].sum(axis=1).to_numpy() - moved[PARTS].sum(axis=1).to_numpy()
    moved["numerator"] += gap
    short = moved["numerator"] < 0
    moved.loc[short, PARTS] = first.reset_index(drop=True).loc[short, PARTS]
    moved["missing_left_out"] = is_left_out
    return pd.concat([first, moved], ignore_index=True)


@pytest.mark.slow
@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    seed=st.integers(0, 10**6),
    births=st.sampled_from([8, 30, 60, 150, 400]),
    strata=st.integers(2, 4),
    windows=st.sampled_from([CALENDAR, ROLLING]),
    is_left_out=st.booleans(),
)
def test_no_small_count_is_derivable(
    seed: int,
    births: float,
    strata: int,
    windows: list[tuple[str, int, int]],
    is_left_out: bool,
) -> None:
    for low, high in attacked(lucky(seed, births, strata, is_left_out), windows, seed):
        assert high - low >= K


@pytest.mark.slow
def test_the_attack_succeeds_where_only_small_counts_are_masked() -> None:
    """The attacker is no straw man: without complementary masks it reads small counts."""
    found = attacked(lucky(3, 60, 3, False), ROLLING, 3, is_complementary=False)
    exact = [low for low, high in found if low == high]
    assert exact
    assert all(1 <= one < K for one in exact)


def test_one_masked_part_and_its_shown_total_are_not_left_alone() -> None:
    """3 of 60 failed in one stratum, 20 of 60 in the others: the 3 is total less the rest."""
    states = {"a": [0, 0, 57, 3, 0, 0, 0, 0], "b": [0, 0, 40, 20, 0, 0, 0, 0]}
    states["c"] = [0, 0, 35, 25, 0, 0, 0, 0]
    base = pd.DataFrame([base_row("m", 0, name, parts) for name, parts in states.items()])
    rows = with_sums(base, [])
    masked = protect(rows, Rule(K))
    numerator = pd.Series(masked.hidden[:, 4], index=rows["stratum"])
    assert numerator["a"]
    assert numerator.sum() >= 2


@pytest.mark.parametrize("band", ["mild", "severe"])
def test_bands_that_add_up_do_not_give_each_other_away(band: str) -> None:
    """any = mild + severe: with two of them shown the third is known."""
    numbers = {"mild": 40, "severe": 4} if band == "severe" else {"mild": 4, "severe": 40}
    rows = [
        base_row(name, month, "s", [0, 0, met, 200 - met, 0, 0, 0, 0])
        for month in range(3)
        for name, met in {**numbers, "any": 44}.items()
    ]
    base = pd.DataFrame(rows)
    base["parent_id"] = "cold"
    table = with_sums(base, [("all", 3, 1)])
    masked = protect(table, Rule(K))
    months = table.assign(hidden=masked.hidden[:, 4]).query("period_kind == 'month'")
    for _, one in months.groupby(["first_month", "stratifier"]):
        assert one.loc[one["measure_id"] == band, "hidden"].all()
        assert one["hidden"].sum() >= 2
