"""One small run of both shipped units, shared by the tests; the files are only read."""

import csv
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest

from pipelines.definitions.read_units import Unit, find_unit
from synthetic_data import Truth, generate, plant, write_exports
from tests.once import Once

MONTHS = 14  # from 2024-11: one autumn and one spring change of the clock, and another autumn
BIRTHS = 120


@dataclass
class Run:
    """One unit's truth, recorded tables, ledger, and the folder of its exports."""

    unit: Unit
    truth: Truth
    tables: dict[str, pd.DataFrame]
    ledger: pd.DataFrame
    folder: Path

    def lines(self, pattern: str, name: str) -> list[list[str]]:
        """Every line of one file by the standard library's reader; the header is first."""
        delimiter = next(file.delimiter for file in self.unit.files if file.pattern == pattern)
        with (self.folder / name).open(encoding="utf-8-sig", newline="") as opened:
            return list(csv.reader(opened, delimiter=delimiter))

    def records(self, pattern: str) -> list[dict[str, str]]:
        """Every row of every file of one pattern, in order."""
        rows = []
        for path in sorted(self.folder.glob(pattern)):
            header, *body = self.lines(pattern, path.name)
            rows += [dict(zip(header, line, strict=True)) for line in body]
        return rows


def make_run(unit_id: str, folder: Path, shares: dict[str, float] | None = None) -> Run:
    unit = find_unit(unit_id)
    truth = generate(unit, n_months=MONTHS, births_per_month=BIRTHS, seed=5)
    tables, ledger = plant(truth, seed=5, shares=shares)
    ledger = write_exports(tables, unit, folder, ledger, seed=5)
    return Run(unit, truth, tables, ledger, folder)


def _made(once: Once, unit_id: str) -> Run:
    return once(f"run_{unit_id}", lambda folder: make_run(unit_id, folder))


@pytest.fixture(scope="session", params=["quillmere", "tansy_ridge"])
def run(request: pytest.FixtureRequest, once: Once) -> Run:
    return _made(once, request.param)


@pytest.fixture(scope="session")
def quillmere(once: Once) -> Run:
    return _made(once, "quillmere")


@pytest.fixture(scope="session")
def tansy_ridge(once: Once) -> Run:
    return _made(once, "tansy_ridge")
