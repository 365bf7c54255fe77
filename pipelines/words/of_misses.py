"""Why one measure was missed in the month, in a sentence or two for its panel."""

from typing import Final

import pandas as pd

from pipelines.definitions.states import UNKNOWN, state_words
from pipelines.reading.frames import MeasureNow
from pipelines.words import of_numbers

# State -> its words, in reading order: what is known to be missed, then what is not known.
MISSED: Final = state_words("sentence")
_APART: Final = state_words("apart")
MOST_REASONS: Final = 4


def _amount(rows: pd.DataFrame) -> str:
    return of_numbers.count(rows["newborns"].sum())


def _named(rows: pd.DataFrame) -> str:
    """Name the reasons with their counts, in brackets; empty where none is known."""
    known = rows[rows["reason"].notna()]
    names = [
        f"{str(reason).replace('_', ' ')} {of_numbers.count(number)}"
        for reason, number in zip(known["reason"], known["newborns"], strict=True)
    ]
    return f" ({of_numbers.listed(names, MOST_REASONS)})" if names else ""


def _late(rows: pd.DataFrame) -> str:
    by = rows["median_late_minutes"].dropna()
    if by.empty or len(rows) > 1:
        return ""
    minutes = f"{by.iloc[0]:.0f}" if by.iloc[0] >= 1 else "less than 1"
    if rows["newborns"].iloc[0] == 1:
        return f", by {minutes} min"
    return f", half of them by {minutes} min or more"


def missed_words(row: MeasureNow, reasons: pd.DataFrame) -> list[str]:
    """Return the sentences on who did not meet a measure, and on who stood apart; none: empty.

    ``row``: direction. ``reasons``: the measure's rows of state, reason, newborns and
    median_late_minutes. Where lower is better, what was not met is what is wished for: only
    the unknown is told. Where neither side is better, nothing is missed.
    """
    by_state = dict(list(reasons.groupby("state")))
    states = {"higher": tuple(MISSED), "lower": UNKNOWN}.get(str(row["direction"]), ())
    parts = [
        f"{_amount(by_state[state])} {MISSED[state]}{_late(by_state[state])}"
        f"{_named(by_state[state])}"
        for state in states
        if state in by_state
    ]
    head = "Not met" if row["direction"] == "higher" else "Not known"
    told = [f"{head}: {'; '.join(parts)}."] if parts else []
    told += [
        f"{words}: {_amount(by_state[state])}{_named(by_state[state])}."
        for state, words in _APART.items()
        if state in by_state
    ]
    return told
