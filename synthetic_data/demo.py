"""Two fictional units with two years of newborns each: exports and, apart, the ledgers."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from pipelines.definitions.read_units import Unit, find_unit
from synthetic_data.exports import write_exports
from synthetic_data.faults import plant
from synthetic_data.generate import START, generate
from synthetic_data.scenario import Scenario, read_scenario

DEMO_UNITS = ("quillmere", "tansy_ridge")
EXPORTS, LEDGERS = "exports", "ledger"
Progress = Callable[[str], None]


@dataclass
class Written:
    """Where the exports and the ledger of each unit stand, by unit id."""

    exports: dict[str, Path] = field(default_factory=dict)
    ledgers: dict[str, Path] = field(default_factory=dict)
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
) -> Written:
    """Write ``exports/<unit>/*.csv`` and ``ledger/<unit>.csv`` under ``folder``.

    The ledger never stands among the exports. ``progress`` is told one short line per step.
    """
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
        )
        say(f"{unit.id}: planting faults")
        tables, ledger = plant(truth, scenario, seed=seed)
        say(f"{unit.id}: writing exports")
        target = folder / EXPORTS / unit.id
        ledger = write_exports(tables, unit, target, ledger, scenario=scenario, seed=seed)
        written.exports[unit.id] = target
        written.ledgers[unit.id] = _write_ledger(ledger, folder / LEDGERS / f"{unit.id}.csv")
        written.newborns[unit.id] = len(truth.tables["admission"])
    return written


def _write_ledger(ledger: pd.DataFrame, path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    ordered = ledger.sort_values(["source_file", "source_line", "column_name"], kind="stable")
    ordered.drop(columns="row").to_csv(path, index=False, lineterminator="\n")
    return path
