"""One measure around one change: its months, what the change did, how firm that is.

The change study and the review read one verdict from it (:mod:`verdict`).

Frames and numbers in, a ``Study`` out. Months are numbered one apart, so that a month without
newborns stays a gap.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from pipelines.definitions.read_measures import UNKNOWN_LEFT_OUT, UNKNOWN_NOT_MET
from pipelines.reading.frames import InfoRow
from pipelines.reading.measured import ValueStudy, value_study
from pipelines.statistics import effects, interrupted
from pipelines.statistics.effects import Effect, Span
from pipelines.statistics.interrupted import (
    PRIORS,
    Fit,
    NotFittedError,
    Priors,
    Series,
    Split,
)
from pipelines.statistics.over_time import BETTER, MOVED, WORSE

# A straight course over more than three years, or two after the change, asks too much of it.
MOST_BEFORE: Final = 36
MOST_AFTER: Final = 24
MUCH_UNDOCUMENTED: Final = 0.1  # share of newborns; months above it are counted in the verdict

BEFORE: Final = "before"
AFTER: Final = "after"
LEFT_OUT: Final = "left out"

UNCLEAR: Final = "unclear"
CHARTING: Final = "charting"  # moved, but what is written down moved and could have done it alone
NOT_ANALYSED: Final = "not_analysed"
SAME_MONTH_POLICY: Final = "same_month_policy"  # beside the reasons of ``interrupted``
NO_ROWS: Final = "no_rows"

# How newborns that are not documented, or recorded unusably, are counted; beside these two ways as
# a measure may have it (UNKNOWN_LEFT_OUT, UNKNOWN_NOT_MET).
AS_MEASURED: Final = "as_measured"
UNKNOWN_MET: Final = "met"
SHARE_KNOWN: Final = "known"  # not the measure, but the share of the others


@dataclass(frozen=True)
class Reading:
    """The same months once more, the unknown counted otherwise; None where it cannot be said."""

    fit: Fit | None
    effect: Effect | None
    plain: Effect | None  # before and after alone

    def says(self, direction: str, is_plain: bool = False) -> str:
        """Return which way its interval lies; ``NOT_ANALYSED`` where there is none."""
        one = self.plain if is_plain else self.effect
        return NOT_ANALYSED if one is None else verdict(one.points, direction)


@dataclass(frozen=True)
class Study:
    """One measure around one change. ``reason`` is set where ``effect`` is not."""

    row: InfoRow
    months: pd.DataFrame  # PhaseMonthRow: one row per month
    split: Split
    reason: str | None
    fit: Fit | None
    effect: Effect | None
    verdict: str  # better, worse, moved, charting, unclear or not_analysed
    plain: Effect | None = None  # before and after alone: no trend, no season
    priors: Priors = PRIORS
    care: Reading | None = None  # among those documented; None: nobody was unknown
    against: Reading | None = None  # the unknown counted on the bad side
    charting: Effect | None = None  # on the share documented
    value: ValueStudy | None = None  # of what was measured, or how long it took
    is_cut: bool = False  # a date of policy, not the export, is where the months before begin

    @property
    def direction(self) -> str:
        return str(self.row["direction"])

    @property
    def reading(self) -> str:
        """What the interval of the measure says; ``verdict`` also asks what charting did."""
        return self.as_measured.says(self.direction)

    @property
    def plain_verdict(self) -> str:
        """What before and after alone say, where charting alone cannot have done it."""
        return _joined(self, is_plain=True)

    @property
    def as_measured(self) -> Reading:
        return Reading(self.fit, self.effect, self.plain)

    @property
    def is_charting_clear(self) -> bool:
        """Whether more, or less, is documented since the change, beyond chance and course."""
        return self.charting is not None and self.charting.points.leaves_out_zero

    @property
    def charting_alone(self) -> Span | None:
        """What documentation alone would have done to the measure, care as in the course before.

        Of a measure that counts the unknown as not met; None for others.
        """
        if self.charting is None or self.row["missing"] == UNKNOWN_LEFT_OUT:
            return None
        if self.care is None or self.care.effect is None:
            return None
        return self.charting.points.times(self.care.effect.without_change.guess)

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
    elif how == SHARE_KNOWN:
        events, total = full - unknown, full
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


def _analysed(series: Series, split: Split, priors: Priors) -> tuple[Reading, str | None]:
    try:
        fit = interrupted.fit(series, split, priors)
    except NotFittedError as error:
        return Reading(None, None, None), str(error)
    plain = effects.effect(interrupted.fit(series, split, interrupted.PLAIN))
    return Reading(fit, effects.effect(fit), plain), None


def _joined(one: Study, is_plain: bool = False) -> str:
    """Return the verdict that all readings allow.

    Better: as measured and among the documented, and, where less is documented than before, with
    the unknown on the bad side as well. Worse: among the documented, unless with the unknown on
    the bad side it got better; or as measured, where documentation did not move. Charting: it
    moved, but not in all of these, and documentation did.
    """
    told = one.as_measured.says(one.direction, is_plain)
    if one.care is None or told == NOT_ANALYSED:
        return told
    care = one.care.says(one.direction, is_plain)
    against = one.against.says(one.direction, is_plain) if one.against is not None else told
    if told == care == BETTER and (against == BETTER or not _is_thinner(one)):
        return BETTER
    if care == WORSE and against != BETTER:
        return WORSE
    if told == WORSE and not one.is_charting_clear and _goes_along(one, is_plain):
        return WORSE
    if told == care == MOVED and _goes_along(one, is_plain):
        return MOVED
    return CHARTING if one.is_charting_clear and told != UNCLEAR else UNCLEAR


def _is_thinner(one: Study) -> bool:
    """Return whether less is documented since the change, beyond chance and course."""
    return one.charting is not None and one.charting.points.upper < 0


def _goes_along(one: Study, is_plain: bool) -> bool:
    """Return whether the best guess among the documented goes the way of the measure's."""
    read = [one.as_measured, *([one.care] if one.care else [])]
    both = [each.plain if is_plain else each.effect for each in read]
    sides = {each.points.guess > 0 for each in both if each is not None}
    return None not in both and len(sides) == 1


def _against(row: InfoRow) -> str | None:
    """Return how to count the unknown on the bad side; None where the measure itself does."""
    how = {"lower": UNKNOWN_MET, "higher": UNKNOWN_NOT_MET}.get(str(row["direction"]))
    own = UNKNOWN_NOT_MET if row["missing"] != UNKNOWN_LEFT_OUT else UNKNOWN_LEFT_OUT
    return None if how == own else how


def study(
    row: InfoRow,
    months: pd.DataFrame,
    start_on: pd.Timestamp,
    breaks: pd.Series,
    how: str = AS_MEASURED,
    *,
    priors: Priors = PRIORS,
    values: pd.DataFrame | None = None,
) -> Study:
    """Analyse one measure around a change.

    ``row``: the measure. ``months``: one row per month with month, numerator, counted,
    denominator, exception, not_documented, unusable. ``breaks``: dates of its policy.
    ``values``: ValueRow of what was measured. With a ``how`` of its own nothing is said of
    charting, for that is what it changes.
    """
    split = split_at(start_on)
    phased = _phases(months, split, breaks)
    if (breaks.dropna().map(place_of) == split.before_until).any():
        return Study(row, phased, split, SAME_MONTH_POLICY, None, None, NOT_ANALYSED)
    if phased.empty:
        return Study(row, phased, split, _outside(months, start_on), None, None, NOT_ANALYSED)
    own, reason = _analysed(counts(phased, str(row["missing"]), how), split, priors)
    value = value_study(values, phased, split, priors)
    is_cut = bool(len(phased)) and phased["month"].min() > months["month"].min()
    one = Study(
        row, phased, split, reason, own.fit, own.effect, NOT_ANALYSED, own.plain, priors,
        value=value, is_cut=is_cut,
    )  # fmt: skip
    if how == AS_MEASURED and own.fit is not None:
        one = _with_readings(one)
    return replace(one, verdict=_joined(one))


def _with_readings(one: Study) -> Study:
    """Return the study with care and charting side by side, where anybody was unknown."""
    unknown = one.months["not_documented"] + one.months["unusable"]
    if not unknown.sum() > 0:
        return one

    def read(how: str) -> Reading:
        counted = counts(one.months, str(one.row["missing"]), how)
        return _analysed(counted, one.split, one.priors)[0]

    worst = _against(one.row)
    return replace(
        one,
        care=read(UNKNOWN_LEFT_OUT),
        against=read(worst) if worst else None,
        charting=read(SHARE_KNOWN).effect,
    )


def _outside(months: pd.DataFrame, start_on: pd.Timestamp) -> str:
    if months.empty:
        return NO_ROWS
    is_early = start_on < months["month"].min()
    return interrupted.NONE_BEFORE if is_early else interrupted.NONE_AFTER
