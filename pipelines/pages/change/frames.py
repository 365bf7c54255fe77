"""The frames of a change study: grain, columns, units. Shares are of 1."""

from typing import Annotated, TypedDict

import pandas as pd

from pipelines.reading.frames import LogRow, SeriesRow
from pipelines.statistics.effects import Span


class TouchingRow(LogRow):
    """``changes``: one row per other change of the log within the months of the study."""

    touches: Annotated[bool, "it names the measure of the page too"]


class BreakRow(TypedDict):
    """``breaks``: one row per date on which a measure's own numbers changed for the unit."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    start_on: Annotated[pd.Timestamp, "first day of it"]
    words: Annotated[str | None, "what changed"]


class BornRow(TypedDict):
    """One row per month of birth: who was born; counts are live births."""

    month: Annotated[pd.Timestamp, "first day"]
    births: Annotated[int, "all"]
    gestation_known: Annotated[int, "gestational age recorded"]
    preterm: Annotated[int, "before 37 weeks"]
    mode_known: Annotated[int, "mode of birth recorded"]
    caesarean: Annotated[int, "by caesarean"]
    shift_known: Annotated[int, "day or night recorded"]
    night: Annotated[int, "at night"]


class MixRow(TypedDict):
    """``mix``: one row per fact of who was born."""

    name: Annotated[str, "the fact in words"]
    before: Annotated[tuple[float, float], "(how many, of how many) newborns"]
    after: Annotated[tuple[float, float], "(how many, of how many) newborns"]
    points: Annotated[Span, "share after less share before, with its 95 % interval"]


class PhaseMonthRow(SeriesRow):
    """``Study.months``: one row per month around the change."""

    place: Annotated[int, "number of the month, neighbours one apart"]
    phase: Annotated[str, "before, after or left out"]


class FittedMonthRow(PhaseMonthRow):
    """A month of the table, with what was fitted."""

    fitted: Annotated[float | None, "share fitted"]
    course: Annotated[float | None, "share that the course before would have given"]


class ValueMonthRow(TypedDict):
    """A month with a reading of a measured value; numbers in the unit that is drawn."""

    month: Annotated[pd.Timestamp, "first day"]
    phase: Annotated[str, "before, after or left out"]
    readings: Annotated[float, "how many"]
    spread: Annotated[float | None, "standard deviation among them; of minutes, of logarithms"]
    mean: Annotated[float, "of the readings; of minutes the geometric mean"]
    fitted: Annotated[float | None, "mean fitted; missing where left out"]
    course: Annotated[float | None, "mean that the course before would give; missing before"]
    low: Annotated[float | None, "end of the 95 % range of the course"]
    high: Annotated[float | None, "end of the 95 % range of the course"]


class MarkRow(TypedDict):
    """One row per change or policy date that a picture shows."""

    start_on: Annotated[pd.Timestamp, "first day of it"]
    words: Annotated[str, "what changed"]
    is_own: Annotated[bool, "the change that the page is about"]
