"""The true record of a plausible unit: contract tables before anything was written down wrong."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import Unit
from synthetic_data.births import draw_births
from synthetic_data.care import care_items, findings
from synthetic_data.contact import add_contact, add_first_temperature
from synthetic_data.doses import doses
from synthetic_data.first_days import add_first_days
from synthetic_data.local_text import keep_expressible
from synthetic_data.newborns import add_admission_gaps, add_newborns
from synthetic_data.observations import observations
from synthetic_data.scenario import Scenario, read_scenario, stream
from synthetic_data.stories import Story
from synthetic_data.telling import TOLD_COLUMNS, plant_stories

Tables = dict[str, pd.DataFrame]
START = "2024-11"


@dataclass(frozen=True)
class Truth:
    """Contract tables of one unit, as they happened.

    Each has the contract's columns (minutes after birth, canonical units, codes as
    categories), and ``newborn``, the row number of the newborn in ``admission``; event tables
    have ``take``, the place of the unit file's take that carries the row, and ``is_spared``: no
    fault is planted there. ``admission`` also
    has ``birth_at`` (UTC). Only what the unit's exports can say is kept. ``told`` has one row per
    planted story and newborn it touched (see ``plant_stories``), with ``record_id``.
    """

    unit: Unit
    seed: int
    tables: Tables
    told: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame(columns=[*TOLD_COLUMNS, "record_id"])
    )


def generate(
    unit: Unit,
    scenario: Scenario | None = None,
    *,
    start: str = START,
    n_months: int = 24,
    births_per_month: float = 250,
    seed: int = 1,
    stories: Iterable[Story] = (),
) -> Truth:
    """Draw a unit's newborns over ``n_months`` from ``start`` (YYYY-MM); same seed, same rows.

    ``stories``: planted where they are of this unit; none by default.
    """
    scenario = scenario or read_scenario()
    babies = draw_births(
        unit,
        scenario,
        start=start,
        n_months=n_months,
        births_per_month=births_per_month,
        seed=seed,
    )
    add_newborns(babies, unit, scenario, seed)
    add_contact(babies, unit, scenario, seed)
    add_first_temperature(babies, unit, scenario, seed)
    events = {
        "observation": observations(babies, unit, scenario, seed),
        "dose": doses(babies, unit, scenario, seed),
        "care": care_items(babies, unit, scenario, seed),
        "finding": findings(babies, unit, scenario, seed),
    }
    add_first_days(babies, events, unit, scenario, seed)
    add_admission_gaps(babies, scenario, stream(seed, unit.id, "admission gaps"))
    told = plant_stories(babies, events, unit, seed, stories)
    told["record_id"] = babies["record_id"].to_numpy()[told["newborn"].to_numpy(dtype=int)]
    for name, table in events.items():
        key = pd.Categorical.from_codes(
            table["newborn"].to_numpy(), categories=pd.Index(babies["record_id"])
        )
        events[name] = table.assign(record_id=key)
    tables = {"admission": _admission(babies)} | events
    return Truth(unit, seed, keep_expressible(tables, unit), told)


def _admission(babies: pd.DataFrame) -> pd.DataFrame:
    columns = read_contract()["admission"].columns
    table = babies[[name for name in columns if name in babies] + ["birth_at"]].copy()
    table["newborn"] = np.arange(len(table), dtype=np.int32)
    for name, column in columns.items():
        if column.type == "code":
            table[name] = pd.Categorical(table[name], categories=list(column.allowed))
    return table
