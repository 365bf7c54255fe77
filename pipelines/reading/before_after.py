"""One measure around one change: its months, what the change did, how firm that is.

The change study and the review read one verdict from it (:mod:`verdict`).

Frames and numbers in, a ``Study`` out. Months are numbered one apart, so that a month without
newborns stays a gap.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from pipelines.definitions.read_measures import UNKNOWN_LEFT_OUT, UNKNOWN_NOT_MET
from pipelines.reading.frames import InfoRow
from pipelines.statistics import effects, interrupted
from pipelines.statistics.effects import Effect, Span
from pipelines.statistics.interrupted import Fit, NotFittedError, Series, Split
from pipelines.statistics.over_time import BETTER, MOVED, WORSE

# A straight course over more than three years, or two after the change, asks too much of it.
MOST_BEFORE: Final = 36
MOST_AFTER: Final = 24
MUCH_UNDOCUMENTED: Final = 0.1  # share of newborns; months above it are counted in the verdict

BEFORE: Final = "before"
AFTER: Final = "after"
LEFT_OUT: Final = "left out"

UNCLEAR: Final = "unclear"
NOT_ANALYSED: Final = "not_analysed"
SAME_MONTH_POLICY: Final = "same_month_policy"  # beside the reasons of ``interrupted``
NO_ROWS: Final = "no_rows"

# How newborns that are not documented, or recorded unusably, are counted; beside these two ways as
# a measure may have it (UNKNOWN_LEFT_OUT, UNKNOWN_NOT_MET).
AS_MEASURED: Final = "as_measured"
UNKNOWN_MET: Final = "met"
SHARE_UNKNOWN: Final = "unknown"  # not the measure, but the share of them


@dataclass(frozen=True)
class Study:
    """One measure around one change. ``reason`` is set where ``effect`` is not."""

    row: InfoRow
    months: pd.DataFrame  # PhaseMonthRow: one row per month
    split: Split
    reason: str | None
    fit: Fit | None
    effect: Effect | None
    verdict: str
    plain: Effect | None = None  # before and after alone: no trend, no season
    seasonal: Span | None = None  # under two years: the effect with a season all the same

    @property
    def reading(self) -> str:
        """What the interval alone says; ``verdict`` also asks for a season under two years."""
        if self.effect is None:
            return NOT_ANALYSED
        return verdict(self.effect.points, str(self.row["direction"]))

    @property
    def plain_verdict(self) -> str:
        if self.plain is None:
            return NOT_ANALYSED
        return verdict(self.plain.points, str(self.row["direction"]))

    @property
    def is_first_look(self) -> bool:
        """Under two years a season cannot be told from the change: nothing is settled."""
        return self.fit is not None and not self.fit.model.has_season

    def phase(self, name: str) -> pd.DataFrame:
        return self.months[self.months["phase"] == name]

    def gaps_after(self) -> tuple[int, int]:
        """Return how many months after the change lack more than a tenth, and of how many."""
        after = self.phase(AFTER)
        after = after[after["denominator"] > 0]
        unknown = (after["not_documented"] + after["unusable"]) / after["denominator"]
        return int((unknown > MUCH_UNDOCUMENTED).sum()), len(after)


def place(month: pd.Series) -> pd.Series:
    """Number months so that neighbours are one apart."""
    numbers: pd.Series = month.dt.year * 12 + month.dt.month
    return numbers.astype("int64")


def place_of(day: pd.Timestamp) -> int:
    return day.year * 12 + day.month


def month_at(number: int) -> pd.Timestamp:
    """Return the first day of a numbered month.

    >>> month_at(place_of(pd.Timestamp("2025-12-05")))
    Timestamp('2025-12-01 00:00:00')
    """
    return pd.Timestamp(year=(number - 1) // 12, month=(number - 1) % 12 + 1, day=1)


def split_at(start_on: pd.Timestamp) -> Split:
    """Return the split of a change; a month that it divides belongs to neither side."""
    month = place_of(start_on)
    return Split(month, month if start_on.day == 1 else month + 1)


def _phases(months: pd.DataFrame, split: Split, breaks: pd.Series) -> pd.DataFrame:
    """Add place and phase; months under other numbers of the measure's policy are dropped."""
    months = months.assign(place=place(months["month"]))
    low, high = split.before_until - MOST_BEFORE, split.after_from + MOST_AFTER
    for start in breaks.dropna():
        # A month that a policy date divides mixes both numbers, so it is dropped on either side.
        first = place_of(start)
        if first < split.before_until:
            low = max(low, first if start.day == 1 else first + 1)
        elif first > split.before_until:
            high = min(high, first)
    months = months[(months["place"] >= low) & (months["place"] < high)].copy()
    months["phase"] = LEFT_OUT
    months.loc[months["place"] < split.before_until, "phase"] = BEFORE
    months.loc[months["place"] >= split.after_from, "phase"] = AFTER
    return months.reset_index(drop=True)


def counts(months: pd.DataFrame, missing: str, how: str = AS_MEASURED) -> Series:
    """Return the counts to analyse; ``how`` says what becomes of the unknown.

    ``missing`` is the measure's own rule. Only ``AS_MEASURED`` gives the rate of the pages.
    """
    unknown = months["not_documented"] + months["unusable"]
    full = months["counted"] + (unknown if missing == UNKNOWN_LEFT_OUT else 0)
    events, total = months["numerator"], months["counted"]
    if how == UNKNOWN_LEFT_OUT:
        total = full - unknown
    elif how == UNKNOWN_NOT_MET:
        total = full
    elif how == UNKNOWN_MET:
        events, total = events + unknown, full
    elif how == SHARE_UNKNOWN:
        events, total = unknown, months["denominator"]
    kept = total.clip(lower=0).to_numpy(float)
    # An unknown newborn that is also an exception must not make more events than newborns.
    happened = np.minimum(events.to_numpy(float), kept)
    return Series(months["place"].to_numpy("int64"), happened, kept)


def verdict(points: Span, direction: str) -> str:
    """Say on which side of no effect the whole interval lies.

    >>> verdict(Span(0.05, 0.01, 0.09), "lower")
    'worse'
    """
    if not points.leaves_out_zero:
        return UNCLEAR
    if direction == "neither":
        return MOVED
    return BETTER if (points.guess > 0) == (direction == "higher") else WORSE


def _analysed(series: Series, split: Split) -> tuple[Fit | None, str | None]:
    try:
        return interrupted.fit(series, split), None
    except NotFittedError as error:
        return None, str(error)


def study(
    row: InfoRow,
    months: pd.DataFrame,
    start_on: pd.Timestamp,
    breaks: pd.Series,
    how: str = AS_MEASURED,
) -> Study:
    """Analyse one measure around a change.

    ``row``: the measure. ``months``: one row per month with month, numerator, counted,
    denominator, exception, not_documented, unusable. ``breaks``: dates of its policy.
    """
    split = split_at(start_on)
    phased = _phases(months, split, breaks)
    if (breaks.dropna().map(place_of) == split.before_until).any():
        return Study(row, phased, split, SAME_MONTH_POLICY, None, None, NOT_ANALYSED)
    if phased.empty:
        return Study(row, phased, split, _outside(months, start_on), None, None, NOT_ANALYSED)
    series = counts(phased, str(row["missing"]), how)
    fit, reason = _analysed(series, split)
    if fit is None:
        return Study(row, phased, split, reason, None, None, NOT_ANALYSED)
    effect = effects.effect(fit)
    plain = effects.effect(interrupted.fit(series, split, interrupted.PLAIN))
    seasonal = effects.with_season(fit)
    is_settled = effects.is_settled(fit, effect.points, seasonal)
    said = verdict(effect.points, str(row["direction"])) if is_settled else UNCLEAR
    return Study(row, phased, split, None, fit, effect, said, plain, seasonal)


def _outside(months: pd.DataFrame, start_on: pd.Timestamp) -> str:
    if months.empty:
        return NO_ROWS
    is_early = start_on < months["month"].min()
    return interrupted.NONE_BEFORE if is_early else interrupted.NONE_AFTER
