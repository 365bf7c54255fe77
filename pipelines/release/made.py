"""A release that is prepared: masked rows and what is said of them, not yet written."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from pipelines.release.masking import Rule


@dataclass(frozen=True)
class Release:
    """What would leave the unit, ready to be looked at and written.

    frames: ``results`` (all newborns by period), ``strata`` and ``measures``; a masked count or
    rate is null and is_hidden says so. texts: the same with the words that stand in the files.
    words: sentences for the person who releases. line: what the ledger keeps of it.
    """

    unit: str
    rule: Rule
    frames: Mapping[str, pd.DataFrame]
    texts: Mapping[str, pd.DataFrame]
    words: Sequence[str]
    left_out: str  # names the measures that the export says nothing of; empty where none
    published: pd.DataFrame
    line: Mapping[str, Any]
    ledger: Path | None
    ledger_state: str
