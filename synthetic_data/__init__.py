"""Synthetic newborns: a seeded, plausible unit, written down the way units write things down.

No row describes a real newborn, and no number here is a finding about care.
"""

from synthetic_data.demo import write_demo
from synthetic_data.exports import write_exports
from synthetic_data.faults import LEDGER_COLUMNS, plant
from synthetic_data.generate import START, Truth, generate
from synthetic_data.scenario import Scenario, read_scenario

__all__ = [
    "LEDGER_COLUMNS",
    "START",
    "Scenario",
    "Truth",
    "generate",
    "plant",
    "read_scenario",
    "write_demo",
    "write_exports",
]
