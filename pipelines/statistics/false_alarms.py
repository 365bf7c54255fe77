"""The measured false alarms and detection of the charts, for a page to print with the setting.

Their one home is ``false_alarms.toml``, written by ``tests/benchmark/false_alarms.py``.
"""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import pandas as pd

PATH: Final = Path(__file__).with_suffix(".toml")


@dataclass(frozen=True)
class FalseAlarms:
    """What was measured, and how. Every share is of 1.

    ``in_control``: births_a_month, share, default, with_sensitive_pair, textbook, and each rule
    alone: the share of charts without a change on which it speaks. ``overdispersed``: the same
    with true_sigma_z. ``fall``: births_a_month, from_share, to_share, default,
    with_sensitive_pair (share found in time), default_median_month (0: not half of them).
    ``other``: chart, words, default.
    """

    about: dict[str, Any]
    in_control: pd.DataFrame
    overdispersed: pd.DataFrame
    fall: pd.DataFrame
    other: pd.DataFrame

    @property
    def highest(self) -> float:
        """The highest share of chance charts that the shipped set calls wrongly."""
        return float(self.in_control["default"].max())

    def nearest(self, births_a_month: float) -> dict[str, float]:
        """Return the row with the most false alarms of the nearest size of unit."""
        sizes = self.in_control["births_a_month"]
        size = min(sizes, key=lambda n: abs(n - births_a_month))
        alike = self.in_control[sizes == size]
        worst = alike.loc[alike["default"].idxmax()]
        return {str(name): float(value) for name, value in worst.items()}


@lru_cache(maxsize=1)
def measured() -> FalseAlarms:
    """Read what was measured of the rules that ship."""
    found = tomllib.loads(PATH.read_text(encoding="utf-8"))
    tables = {
        name: pd.DataFrame(found.pop(name))
        for name in ("in_control", "overdispersed", "fall", "other")
    }
    return FalseAlarms(about=found, **tables)
