"""How many needed values a unit has: one number, which every page gives alike.

A need is one newborn (or episode) in the denominator of one measure file; the bands of one file
read the same value and count once, and how long something took (kind ``minutes``) reads what the
measure of its window reads. What the whole export is silent on is needed of nobody: it is
told apart, by name.
"""

from typing import TypedDict

import pandas as pd


class NeedRow(TypedDict):
    """What is asked of a row; counts are newborns or items of one measure in one period."""

    parent_id: str | None
    kind: str
    is_silent: bool
    denominator: int
    not_documented: int
    unusable: int


def needs(rows: pd.DataFrame) -> pd.DataFrame:
    """Return one of ``rows`` (``NeedRow``) per measure file that the export can be asked about."""
    asked = rows[~rows["is_silent"] & (rows["kind"] != "minutes")]
    return asked.drop_duplicates(subset="parent_id", keep="first")


def needed_values(rows: pd.DataFrame) -> tuple[int, int]:
    """Return how many needed values are documented and usable, and how many are needed."""
    once = needs(rows)
    total = int(once["denominator"].sum())
    return total - int((once["not_documented"] + once["unusable"]).sum()), total
