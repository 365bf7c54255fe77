"""Rows that are alike but not the same: none of them may be taken for a repeat of another."""

from pathlib import Path

import pytest

from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import find_unit

from .sides import read_sides
from .tables import small_export
from .unit_files import write_unit

pytestmark = pytest.mark.build

DOSE = {"Medicine": "phytonadione", "Action": "given", "Route": "IM", "Site": "R thigh"}
DOSE |= {"Amount": "1", "Amount unit": "mg", "Presentation": "newborn"}
LOOK = {"Looked at": "fontanelle", "As expected": "Y"}


def test_rows_of_two_newborns_are_no_repeats(tmp_path: Path) -> None:
    """Two pairs of rows out of synthetic exports: other newborn, other minute."""
    file = write_unit("minutes_of_quillmere", tmp_path)
    folder = tmp_path / "exports"
    keys = ("MOQE01715", "MOQE01755", "MOQE01800", "MOQE01870")
    small_export(
        file,
        folder,
        newborns=[{"Study key": key, "Born in month": "2025-01"} for key in keys],
        medication=[
            {"Study key": "MOQE01715", "Time": "95", **DOSE},
            {"Study key": "MOQE01755", "Time": "55", **DOSE},
        ],
        examination=[
            {"Study key": "MOQE01800", "Time": "136", **LOOK},
            {"Study key": "MOQE01870", "Time": "133", **LOOK},
        ],
    )
    build_store([(find_unit(str(file)), folder)], tmp_path / "store.duckdb")
    sides = read_sides(tmp_path / "store.duckdb", file, folder)
    assert sides.aside_differences() == []
    assert sides.member_differences() == []
