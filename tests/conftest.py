"""What several kinds of test share: two synthetic units, exported and built once."""

import os
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest

from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.cli import _parser
from pipelines.definitions.read_units import find_unit
from synthetic_data import read_scenario, write_demo
from synthetic_data.demo import DEMO_UNITS, write_told_demo
from synthetic_data.scenario import Scenario

from .once import ONCE, Once, shared_folder

pytest_plugins = ("tests.speed",)

# Many more faults than the demo has, so that every kind is planted several times.
FAULTS_TIMES = 12
DEMO_SEED: int = _parser().parse_args(["demo"]).seed


@dataclass(frozen=True)
class Built:
    """Two synthetic units: their exports, the ledger of planted faults, the built store."""

    exports: dict[str, Path]
    ledger: pd.DataFrame
    summary: BuildSummary

    @property
    def store(self) -> Path:
        return self.summary.store


def build_synthetic(folder: Path, scenario: Scenario, seed: int, n_months: int) -> Built:
    written = write_demo(
        folder, seed=seed, n_months=n_months, births_per_month=120, scenario=scenario
    )
    sources = [(find_unit(unit), written.exports[unit]) for unit in DEMO_UNITS]
    ledger = pd.concat(
        pd.read_csv(path, dtype="str", keep_default_na=False) for path in written.ledgers.values()
    )
    return Built(written.exports, ledger, build_store(sources, folder / "store.duckdb"))


@dataclass(frozen=True)
class Demo:
    """The demo as it is shipped: its store, its ledger, and whom its stories touched, by unit."""

    store: Path
    ledger: pd.DataFrame
    truths: dict[str, Path]


def build_demo(folder: Path) -> Demo:
    written = write_told_demo(folder, DEMO_SEED)
    sources = [(find_unit(unit), written.exports[unit]) for unit in DEMO_UNITS]
    ledger = pd.concat(
        pd.read_csv(path, dtype="str", keep_default_na=False) for path in written.ledgers.values()
    )
    return Demo(build_store(sources, folder / "store.duckdb").store, ledger, written.truths)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Return one process more than there are cores: who waits for a browser leaves one free."""
    return (os.cpu_count() or 1) + 1


@pytest.fixture(scope="session")
def once(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Once:
    """What is made once per run, by whichever process needs it first."""
    made = request.config.stash[ONCE] = Once(shared_folder(tmp_path_factory))
    return made


@pytest.fixture(scope="session")
def synthetic(once: Once) -> Built:
    """Twelve months of both shipped units with many planted faults."""
    shipped = read_scenario()
    faults = {
        name: share if name == "at_least" else share * FAULTS_TIMES
        for name, share in shipped["faults"].items()
    }
    scenario = Scenario({**shipped.numbers, "faults": {**faults, "at_least": 3}})
    return once("synthetic", lambda folder: build_synthetic(folder, scenario, 7, n_months=12))


@pytest.fixture(scope="session")
def clean(once: Once) -> Built:
    """Twelve months of both shipped units without a planted fault."""
    shipped = read_scenario()
    scenario = Scenario({**shipped.numbers, "faults": dict.fromkeys(shipped["faults"], 0)})
    return once("clean", lambda folder: build_synthetic(folder, scenario, 11, n_months=12))


@pytest.fixture(scope="session")
def told_demo(once: Once) -> Demo:
    """The demo's 36 months with every planted story; for tests of the demo alone."""
    return once("told_demo", build_demo)
