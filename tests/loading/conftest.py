"""A small clean export of the long shape, for tests that then spoil it."""

from collections.abc import Callable
from pathlib import Path

import pytest

from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.definitions.read_units import find_unit

FILES = {
    "newborns.csv": [
        "Study key,Born at,Outcome,Room of birth,Delivery,Gestation,Sex,Weight g,Length cm,Head cm,"
        "Apgar 1,Apgar 5,Left birth room at,Left unit at,Went to,Mother HBsAg",
        "A1,03/02/2025 07:05,live birth,birth room,SVD,39+6,M,3400,50,34.5,8,9,"
        "03/02/2025 09:00,03/04/2025 10:00,home,neg",
        "A2,11/02/2025 00:50,live birth,theatre,CS planned,38+2,F,3150,49,34,8,9,"
        "11/02/2025 03:00,11/04/2025 10:00,home,neg",
        "A3,11/05/2025 22:10,live birth,birth room,SVD,40+1,U,3700,51,35.5,7,9,"
        "11/06/2025 01:00,11/07/2025 10:00,home,unk",
    ],
    "flowsheet.csv": [
        "Study key,Item,Taken at,Charted at,Result,How",
        "A1,Temp axillary,03/02/2025 07:45,,36.7,",
        "A1,Respirations,03/02/2025 07:46,,44,60 s",
        "A2,Temp axillary,11/02/2025 01:30,,36.9,",
        "A3,Temp axillary,11/05/2025 23:30,,36.4,",
        "A3,Temp axillary,11/05/2025 23:55,,36.8,",
    ],
    "medication.csv": [
        "Study key,Medicine,Time,Action,Reason,Route,Site,Amount,Amount unit,Presentation",
        "A1,phytonadione,03/02/2025 09:45,given,,IM,L thigh,1,mg,newborn",
        "A2,phytonadione,11/02/2025 02:45,declined,family declined,,,,,",
    ],
    "care.csv": ["Study key,Care item,Start,End,Done,Reason,Number"],
    "examination.csv": ["Study key,Looked at,Time,As expected,Detail,Told,Told at"],
}


def write_files(folder: Path) -> Path:
    """Write the clean export into a new folder and return it."""
    folder.mkdir()
    for name, lines in FILES.items():
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    return write_files(tmp_path / "exports")


@pytest.fixture
def build(exports: Path, tmp_path: Path) -> Callable[[], BuildSummary]:
    def run() -> BuildSummary:
        return build_store([(find_unit("quillmere"), exports)], tmp_path / "store.duckdb")

    return run
