"""How firm the effect of a change is: the same study with other models, months and counts."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import pandas as pd

from pipelines.definitions.read_measures import UNKNOWN_LEFT_OUT, UNKNOWN_NOT_MET
from pipelines.reading.before_after import (
    BEFORE,
    NOT_ANALYSED,
    UNKNOWN_MET,
    Study,
    counts,
    month_at,
    verdict,
)
from pipelines.statistics import effects, interrupted
from pipelines.statistics.effects import Span
from pipelines.statistics.interrupted import PLAIN, NotFittedError, Priors, Series, Split

WIDER: Final = 3.0


@dataclass(frozen=True)
class Line:
    """The effect once more, analysed otherwise. ``months``: before and after."""

    name: str
    points: Span | None
    verdict: str
    months: tuple[int, int]
    reason: str | None = None


def _line(
    name: str, one: Study, series: Series, split: Split, priors: Priors | None = None
) -> Line:
    inside = interrupted.used(series, split)
    after = int(split.is_after(inside.month).sum())
    months = (len(inside.month) - after, after)
    try:
        points = effects.effect(interrupted.fit(series, split, priors or one.priors)).points
    except NotFittedError as error:
        return Line(name, None, NOT_ANALYSED, months, str(error))
    return Line(name, points, verdict(points, str(one.row["direction"])), months)


def sensitivity(one: Study) -> list[Line]:
    """Return the effect under other choices; the first line is the choice made."""
    if one.fit is None:
        return []
    return [*_other_models(one), *_other_months(one), *_other_counts(one)]


def _own(one: Study) -> Series:
    return counts(one.months, str(one.row["missing"]))


def _other_models(one: Study) -> Iterator[Line]:
    series, priors = _own(one), one.priors
    yield _line("As analysed", one, series, one.split)
    level = replace(priors, slope_change=0)
    yield _line("A step only, the trend goes on unchanged", one, series, one.split, level)
    yield _line("Before and after alone: no trend, no season", one, series, one.split, PLAIN)
    yield _line("Without a season", one, series, one.split, replace(priors, season=0))
    name = "Trend and season free to be three times as large"
    yield _line(name, one, series, one.split, priors.times(WIDER))


def _other_months(one: Study) -> Iterator[Line]:
    series, split = _own(one), one.split
    before = int((one.phase(BEFORE)["counted"] > 0).sum())
    for months in (24, 18, 12, 9):
        if months <= before - 3:  # a month or two less would say nothing new
            shorter = interrupted.with_baseline(series, split, months)
            yield _line(f"Only the last {months} months before", one, shorter, split)
    for months in (1, 2, 3):
        words = "month" if months == 1 else f"{months} months"
        later = interrupted.with_washout(split, months)
        yield _line(f"The first {words} after left out", one, series, later)


def _other_counts(one: Study) -> Iterator[Line]:
    missing = str(one.row["missing"])
    names = {
        UNKNOWN_LEFT_OUT: "Not documented or unusable left out",
        UNKNOWN_NOT_MET: "Not documented or unusable counted as not met",
        UNKNOWN_MET: "Not documented or unusable counted as met",
    }
    own = UNKNOWN_LEFT_OUT if missing == UNKNOWN_LEFT_OUT else UNKNOWN_NOT_MET
    unknown = one.months["not_documented"] + one.months["unusable"]
    for how, name in names.items():
        if how != own and unknown.sum() > 0:
            yield _line(name, one, counts(one.months, missing, how), one.split)


@dataclass(frozen=True)
class LeftOut:
    """Every month left out in turn: how far the best guess moves, and when the verdict turns."""

    lowest: float
    highest: float
    tried: int
    turned: list[pd.Timestamp]


def leave_one_out(one: Study) -> LeftOut | None:
    """Return what leaving out each single month does; None where nothing was analysed."""
    if one.fit is None:
        return None
    guesses, turned = [], []
    series = interrupted.used(_own(one), one.split)
    for month in series.month:
        shorter = interrupted.without(series, int(month))
        try:
            points = effects.effect(interrupted.fit(shorter, one.split, one.priors)).points
        except NotFittedError:
            continue
        guesses.append(points.guess)
        if verdict(points, str(one.row["direction"])) != one.reading:
            turned.append(month_at(int(month)))
    return LeftOut(min(guesses), max(guesses), len(guesses), turned) if guesses else None
