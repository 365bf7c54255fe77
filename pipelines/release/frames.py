"""The frames of a release: grain, columns, units. A masked count or rate is missing.

Counts are newborns or items, rates are shares of 1.
"""

import datetime as dt
from typing import Annotated, TypedDict

import pandas as pd


class CountedRow(TypedDict):
    """One row per measure, period and stratum of the unit: the counts, unmasked."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    parent_id: Annotated[str, "name of its file"]
    kind: Annotated[str, "proportion, episode, ...: what one row of it is"]
    missing_left_out: Annotated[bool, "the undocumented stay out of the rate"]
    period_kind: Annotated[str, "month, quarter or all"]
    period_start: Annotated[pd.Timestamp | None, "first day; missing: no month of birth"]
    stratifier: Annotated[str, "by what newborns are grouped"]
    stratum: Annotated[str, "the group"]
    initial_population: Annotated[int, "whom the measure is about"]
    exclusion: Annotated[int, "to whom it does not apply"]
    denominator: Annotated[int, "initial population less exclusions"]
    exception: Annotated[int, "not met for an accepted reason"]
    numerator: Annotated[int, "met"]
    late: Annotated[int, "done after the window"]
    not_done: Annotated[int, "recorded as not done"]
    not_met: Annotated[int, "not as the measure asks"]
    not_documented: Annotated[int, "nothing on record"]
    unusable: Annotated[int, "recorded, not believable"]
    counted: Annotated[int, "what the rate is made of"]
    target: Annotated[float | None, "share; missing where none is set"]


class FactsRow(TypedDict):
    """One row per measure: what a reader of released figures needs to know of it."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    parent_id: Annotated[str, "name of its file"]
    title: Annotated[str, "short name"]
    question: Annotated[str | None, "the question it answers"]
    kind: Annotated[str, "proportion, episode, ...: what one row of it is"]
    direction: Annotated[str, "higher, lower or neither is better"]
    population: Annotated[str | None, "among whom"]
    numerator_words: Annotated[str | None, "what is counted"]
    window_words: Annotated[str | None, "its window in words"]
    exceptions: Annotated[str | None, "accepted reasons, in words"]
    exclusions: Annotated[str | None, "whom it does not apply to, in words"]
    missing: Annotated[str | None, "not_met or left_out: how the undocumented count"]
    target_words: Annotated[str | None, "its target in words"]
    sources: Annotated[str | None, "in words, with years"]
    caution: Annotated[str | None, "in words"]
    version: Annotated[str, "of its file"]


class DescribedRow(FactsRow):
    """``measures``: one row per measure."""

    grain: Annotated[str, "month, quarter or all: by which it is released"]
    words: Annotated[str, "why by that"]


class GrainRow(TypedDict):
    """One row per measure file and stratifier: by which period it is released."""

    parent_id: Annotated[str, "name of the measure's file"]
    stratifier: Annotated[str, "by what newborns are grouped"]
    grain: Annotated[str, "month, quarter or all"]
    words: Annotated[str, "why by that"]


class MaskedFigures(TypedDict):
    """What every released row tells of a measure and a period."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    title: Annotated[str, "short name"]
    period_kind: Annotated[str, "month, quarter or all"]
    period_start: Annotated[dt.date, "first day"]
    period_end: Annotated[dt.date, "last day"]
    initial_population: Annotated[int | None, "whom the measure is about"]
    exclusion: Annotated[int | None, "to whom it does not apply"]
    denominator: Annotated[int | None, "initial population less exclusions"]
    exception: Annotated[int | None, "not met for an accepted reason"]
    numerator: Annotated[int | None, "met"]
    not_in_numerator: Annotated[int | None, "the rest of what the rate is made of"]
    rate: Annotated[float | None, "share"]
    lower: Annotated[float | None, "share; end of the 95 % Wilson interval"]
    upper: Annotated[float | None, "share; end of the 95 % Wilson interval"]
    target: Annotated[float | None, "share; missing where none is set"]
    is_hidden: Annotated[bool, "the rate is masked"]
    words: Annotated[str, "what to say where there is no rate"]


class ResultRow(MaskedFigures):
    """``results``: one row per measure and period, of all newborns."""

    late: Annotated[int | None, "done after the window"]
    not_done: Annotated[int | None, "recorded as not done"]
    not_met: Annotated[int | None, "not as the measure asks"]
    not_documented: Annotated[int | None, "nothing on record"]
    unusable: Annotated[int | None, "recorded, not believable"]
    if_none_met: Annotated[float | None, "share, were none of the unknown met"]
    if_all_met: Annotated[float | None, "share, were all of the unknown met"]


class StrataRow(MaskedFigures):
    """``strata``: one row per measure, period, stratifier and stratum."""

    stratifier: Annotated[str, "by what newborns are grouped"]
    stratum: Annotated[str, "the group"]


class ShownRow(ResultRow):
    """One row of ``results`` with the words that the page shows for it."""

    counted: Annotated[int | None, "what the rate is made of"]
    period: Annotated[str, "the period in words"]
    fraction: Annotated[str, "n of N, or why there is none"]
    percent: Annotated[str, "the rate in words, or why there is none"]
    interval: Annotated[str, "in words, or why there is none"]


class ReportRow(TypedDict):
    """One row of ``results`` with what a report says of its measure."""

    measure_id: str
    period_kind: str
    period_start: dt.date
    period_end: dt.date
    initial_population: int | None
    numerator: int | None
    counted: int | None
    rate: float | None
    direction: str
    version: str
    unit: Annotated[str, "id"]
    told: Annotated[list[str], "counts that rows of this grain tell"]


class ToldRow(TypedDict):
    """What a chart's text asks of a shown period."""

    title: str
    period: str
    fraction: str
    percent: str
    target: float | None
