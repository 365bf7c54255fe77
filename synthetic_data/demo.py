"""Two fictional units: exports and, apart, the ledgers and what was planted as a story."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import pandas as pd

from pipelines.definitions.read_units import Unit, find_unit
from synthetic_data.exports import write_exports
from synthetic_data.faults import plant
from synthetic_data.generate import START, generate
from synthetic_data.scenario import Scenario, read_scenario
from synthetic_data.stories import Story, read_stories, without_changes

DEMO_UNITS = ("quillmere", "tansy_ridge")
# The demo's months end with the one that its pages show first.
DEMO_START: Final = "2023-11"
DEMO_MONTHS: Final = 36
EXPORTS, LEDGERS, TRUTHS = "exports", "ledger", "truth"
TRUTH_COLUMNS: Final = ["story", "record_id", "minutes", "value"]
Progress = Callable[[str], None]


@dataclass
class Written:
    """Where the exports, the ledger and the told truth of each unit stand, by unit id."""

    exports: dict[str, Path] = field(default_factory=dict)
    ledgers: dict[str, Path] = field(default_factory=dict)
    truths: dict[str, Path] = field(default_factory=dict)
    newborns: dict[str, int] = field(default_factory=dict)


def _silent(_: str) -> None:
    return None


def write_demo(
    folder: Path,
    seed: int = 1,
    progress: Progress | None = None,
    *,
    units: Iterable[Unit | str] = DEMO_UNITS,
    start: str = START,
    n_months: int = 24,
    births_per_month: float = 250,
    scenario: Scenario | None = None,
    stories: Iterable[Story] = (),
) -> Written:
    """Write ``exports/<unit>/*.csv`` and ``ledger/<unit>.csv`` under ``folder``.

    Where stories are planted in a unit, ``truth/<unit>.csv`` names whom each touched. Ledger and
    truth never stand among the exports. ``progress`` is told one short line per step.
    """
    stories = tuple(stories)
    say, scenario, written = progress or _silent, scenario or read_scenario(), Written()
    for each in units:
        unit = find_unit(each) if isinstance(each, str) else each
        say(f"{unit.id}: drawing newborns")
        truth = generate(
            unit,
            scenario,
            start=start,
            n_months=n_months,
            births_per_month=births_per_month,
            seed=seed,
            stories=stories,
        )
        say(f"{unit.id}: planting faults")
        tables, ledger = plant(truth, scenario, seed=seed)
        say(f"{unit.id}: writing exports")
        target = folder / EXPORTS / unit.id
        ledger = write_exports(tables, unit, target, ledger, scenario=scenario, seed=seed)
        written.exports[unit.id] = target
        written.ledgers[unit.id] = _write_ledger(ledger, folder / LEDGERS / f"{unit.id}.csv")
        if len(truth.told):
            written.truths[unit.id] = _write_truth(truth.told, folder / TRUTHS / f"{unit.id}.csv")
        written.newborns[unit.id] = len(truth.tables["admission"])
    return written


def write_told_demo(
    folder: Path,
    seed: int = 1,
    progress: Progress | None = None,
    *,
    births_per_month: float = 250,
    without: Iterable[str] = (),
) -> Written:
    """Write the demo: both units, its months, and every story but the ids in ``without``."""
    left_out = set(without)
    stories = read_stories(left_out)
    silent = [one.change for one in read_stories() if one.id in left_out and one.change]
    return write_demo(
        folder,
        seed,
        progress,
        start=DEMO_START,
        n_months=DEMO_MONTHS,
        births_per_month=births_per_month,
        scenario=without_changes(read_scenario(), silent),
        stories=stories,
    )


def _write_truth(told: pd.DataFrame, path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    ordered = told.sort_values(["story", "record_id"], kind="stable")
    ordered[TRUTH_COLUMNS].to_csv(path, index=False, lineterminator="\n")
    return path


def _write_ledger(ledger: pd.DataFrame, path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    ordered = ledger.sort_values(["source_file", "source_line", "column_name"], kind="stable")
    ordered.drop(columns="row").to_csv(path, index=False, lineterminator="\n")
    return path
