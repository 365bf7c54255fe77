"""The half-hourly watch of the generator adds sets and moves nothing that other measures read."""

from collections.abc import Mapping
from dataclasses import replace

import pandas as pd
import pytest

from pipelines.definitions.read_units import find_unit
from synthetic_data.generate import generate
from synthetic_data.scenario import read_scenario

Tables = Mapping[str, pd.DataFrame]


def _tables(followed: float) -> Tables:
    shipped = read_scenario()
    watch = {**shipped["watch"], "followed": followed, "per_slow": 0}
    scenario = replace(shipped, numbers={**shipped.numbers, "watch": watch})
    unit = find_unit("quillmere")
    return generate(unit, scenario, n_months=2, births_per_month=60, seed=3).tables


@pytest.fixture(scope="module")
def sides() -> tuple[Tables, Tables]:
    """The same newborns with hardly a watch kept, and with nearly every one."""
    return _tables(0), _tables(1)


def _temperatures(tables: Tables) -> pd.DataFrame:
    rows = tables["observation"]
    rows = rows[rows["kind"] == "temperature"].sort_values(["newborn", "minutes", "value"])
    after = rows.groupby("newborn")[["minutes", "value"]].shift(-1)
    return rows[["newborn", "minutes", "value"]].assign(
        next_minutes=after["minutes"], next_value=after["value"]
    )


@pytest.mark.slow
def test_sets_are_added_and_nothing_else_moves(sides: tuple[Tables, Tables]) -> None:
    bare, kept = sides
    assert len(kept["observation"]) > 1.3 * len(bare["observation"])
    for name in ("admission", "dose", "care", "finding"):
        pd.testing.assert_frame_equal(bare[name], kept[name])


@pytest.mark.slow
def test_first_readings_and_what_follows_a_cold_one_stay(sides: tuple[Tables, Tables]) -> None:
    bare, kept = map(_temperatures, sides)
    firsts = [
        each.drop_duplicates("newborn")[["newborn", "minutes", "value"]] for each in (bare, kept)
    ]
    pd.testing.assert_frame_equal(*(each.reset_index(drop=True) for each in firsts))
    cold = [each[each["value"].round(6) < 36.5].reset_index(drop=True) for each in (bare, kept)]
    assert len(cold[0]) > 20
    pd.testing.assert_frame_equal(*cold)


@pytest.mark.slow
def test_added_readings_are_in_range_and_counts_from_a_monitor(
    sides: tuple[Tables, Tables],
) -> None:
    keys = ["newborn", "kind", "minutes", "site"]
    bare, kept = (each["observation"] for each in sides)
    known = set(map(tuple, bare[keys].astype(str).to_numpy()))
    added = kept[[tuple(row) not in known for row in kept[keys].astype(str).to_numpy()]]
    warm = added.loc[added["kind"] == "temperature", "value"]
    assert len(warm) > 100
    assert warm.between(36.5, 37.5).all()
    counts = added[added["kind"].isin(["heart_rate", "respiratory_rate"])]
    assert set(counts["method"].astype(str)) == {"device"}
