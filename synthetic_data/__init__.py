"""Synthetic newborns: a seeded generator, its scenario, planted faults with their ledger.

May use: base, definitions.
Edited by: developer.
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
