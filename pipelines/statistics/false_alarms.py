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
GAPS_PATH: Final = PATH.with_name("gap_truth.toml")  # written by tests/benchmark/gaps.py


@dataclass(frozen=True)
class FalseAlarms:
    """What was measured, and how. Every share is of 1.

    ``quiet``: months_are, births_a_month, share, in_24_months and in_60_months (share of charts
    that signal with nothing going on), now (share of months that a signal reaches), said_now.
    ``in_control``: births_a_month, share, default, textbook, and each rule alone: the share of
    charts of 24 months without a change on which it speaks. ``fall``: births_a_month,
    from_share, to_share, default (share found in time), said (by the charts before it),
    default_median_month (0: not half of them). ``other``: chart, words, default, now (share whose
    last period a signal reaches).
    """

    about: dict[str, Any]
    quiet: pd.DataFrame
    in_control: pd.DataFrame
    fall: pd.DataFrame
    other: pd.DataFrame


@lru_cache(maxsize=1)
def measured() -> FalseAlarms:
    """Read what was measured of the rules that ship."""
    found = tomllib.loads(PATH.read_text(encoding="utf-8"))
    tables = {
        name: pd.DataFrame(found.pop(name)) for name in ("quiet", "in_control", "fall", "other")
    }
    return FalseAlarms(about=found, **tables)


@lru_cache(maxsize=1)
def gaps() -> pd.DataFrame:
    """Return what was measured of charts of births between rare events, near 0 and near 100 %.

    share (met), births_a_month, g_charts, points (mean), in_24_months, in_60_months.
    """
    return pd.DataFrame(tomllib.loads(GAPS_PATH.read_text(encoding="utf-8"))["gap"])


@lru_cache(maxsize=1)
def run_now() -> float:
    """Return the share of run charts with nothing going on whose last period is in a signal."""
    other = measured().other
    (now,) = other.loc[other["chart"] == "run", "now"].tolist()
    return float(now)
