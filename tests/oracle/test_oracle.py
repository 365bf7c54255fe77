"""The built store against the oracle: cells, lines set aside, membership and results.

The outside thing here is a second coding, made from the prose of DEVELOPERS.md and of the
measures' headers alone, in plain Python. Two codings can share a misreading of the prose:
the worked examples and the hand cases in `test_the_oracle.py` stand against that.
"""

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipelines.build import build_store
from pipelines.units import find_unit
from tests.conftest import Built

from .compare import (
    cell_differences,
    differences,
    error_flags,
    own_results,
    rejected_lines,
    result_differences,
    stored_members,
    stored_results,
)
from .engine import Member
from .measures import MEASURES, membership
from .mess import Mess
from .reader import UnitExport, mask_flagged, read_export
from .tables import small_export, unit_toml

UNITS = ("quillmere", "tansy_ridge")
SEEDS = (1, 2, 3)


@dataclass(frozen=True)
class Sides:
    """One unit as the oracle sees it, and the store to hold it against."""

    store: Path
    export: UnitExport
    own: list[Member]

    @property
    def unit(self) -> str:
        return self.export.unit


def _sides(store: Path, unit: str, folder: Path) -> Sides:
    export = read_export(unit_toml(unit), folder)
    mask_flagged(export, error_flags(store, export))
    return Sides(store, export, membership(export))


@pytest.fixture(scope="module", params=UNITS)
def plausible(request: pytest.FixtureRequest, synthetic: Built) -> Sides:
    """Twelve months of synthetic newborns with planted faults."""
    return _sides(synthetic.store, request.param, synthetic.exports[request.param])


@pytest.fixture(scope="module", params=SEEDS)
def messy(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[Sides]:
    """Both units' exports with every field drawn apart."""
    folder = tmp_path_factory.mktemp("mess")
    for unit in UNITS:
        Mess(unit, request.param).write(folder / unit, newborns=300)
    store = folder / "store.duckdb"
    build_store([(find_unit(unit), folder / unit) for unit in UNITS], store)
    return [_sides(store, unit, folder / unit) for unit in UNITS]


def test_the_same_lines_are_set_aside(plausible: Sides) -> None:
    own = {(row.source_file, row.source_line) for row in plausible.export.rejected}
    assert own == rejected_lines(plausible.store, plausible.unit)
    assert own, "no fault set a line aside: the comparison is empty"


def test_every_cell_is_read_and_masked_alike(plausible: Sides) -> None:
    assert cell_differences(plausible.store, plausible.export) == []


def test_membership_agrees(plausible: Sides) -> None:
    stored = stored_members(plausible.store, plausible.unit)
    assert differences(plausible.own, stored) == []


def test_results_agree(plausible: Sides) -> None:
    stored = stored_results(plausible.store, plausible.unit)
    assert result_differences(own_results(plausible.own), stored) == []


def test_unlikely_exports_agree(messy: list[Sides]) -> None:
    for sides in messy:
        assert cell_differences(sides.store, sides.export) == []
        stored = stored_members(sides.store, sides.unit)
        assert differences(sides.own, stored) == []
        results = stored_results(sides.store, sides.unit)
        assert result_differences(own_results(sides.own), results) == []


def test_unlikely_exports_reach_every_state(messy: list[Sides]) -> None:
    """The comparison means little for a state that never occurs."""
    seen: dict[str, set[str]] = defaultdict(set)
    for sides in messy:
        for member in sides.own:
            seen[member.measure_id].add(member.state)
    assert set().union(*seen.values()) == {
        "exclusion", "met", "exception", "not_done", "not_documented", "unusable", "late", "not_met"
    }  # fmt: skip
    for measure_id, states in seen.items():
        assert {"exclusion", "met", "not_documented"} <= states, measure_id
    assert {name for name in MEASURES if name != "arrival_cold"} <= seen.keys()


def test_unknown_time_and_a_window_that_closes_at_birth(tmp_path: Path) -> None:
    """Who died, was moved or had a comfort-care plan at a time not known is excluded."""
    base = {"Birth Month": "2026-01", "Born In": "Room", "Left Room Min": "0"}
    rows = [
        {**base, "Baby": "died", "Left To": "Died"},
        {**base, "Baby": "moved", "Left To": "Transfer"},
        {**base, "Baby": "comfort", "Comfort Plan": "x"},
    ]
    small_export("tansy_ridge", tmp_path / "export", admissions=rows)
    store = tmp_path / "store.duckdb"
    build_store([(find_unit("tansy_ridge"), tmp_path / "export")], store)
    sides = _sides(store, "tansy_ridge", tmp_path / "export")
    assert differences(sides.own, stored_members(store, sides.unit)) == []
