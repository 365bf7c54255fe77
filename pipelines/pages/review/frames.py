"""The frames of a monthly review: one class a frame, its grain, its columns with unit or meaning.

What other pages read as well is declared in ``pipelines/reading/frames.py``, and so is most of
``MeasureRow``.
"""

from typing import Annotated, NotRequired, TypedDict

import pandas as pd

from pipelines.reading.frames import MeasureNow

MeasureId = Annotated[str, "name of its file, or of the band"]


class Weight(TypedDict):
    """How a measure is weighed among the others of its unit."""

    gravity_place: Annotated[int, "how grave its gravest miss is, 1 first"]
    leading_place: Annotated[float | None, "place among those the unit leads with; missing: none"]


class WeightRow(Weight):
    """``weights``: one row per measure of the unit."""

    measure_id: MeasureId


class MeasureRow(MeasureNow, Weight):
    """``measures``: one row per measure, in reading order."""

    group_place: Annotated[float, "place of its group on the page"]
    gap: Annotated[float, "share between rate and target; -1 where either is missing"]


class UnitMatterRow(MeasureRow):
    """One row per measure whose misses list no record, the most missed first."""

    missed: Annotated[int, "rows that did not meet it"]
    among: Annotated[int, "N of the rate, or the denominator where the unknown stay out of it"]
    share: Annotated[float, "missed, share of among"]
    because: Annotated[str, "listed, headline or more_than_half"]


class RecordMeasureRow(TypedDict):
    """``record_measures``: one row per newborn (or item) of the month and measure worth reading."""

    unit: Annotated[str, "id"]
    record_id: Annotated[str, "study key"]
    newborn_id: Annotated[int, "key of the newborn in this store"]
    measure_id: MeasureId
    item: Annotated[int, "number of the episode, finding, ...; 1 otherwise"]
    period: Annotated[pd.Timestamp, "month of birth"]
    state: Annotated[str, "met, late, not_done, not_met, not_documented or unusable"]
    is_counted: Annotated[bool, "whether the rate is made of it"]
    minutes: Annotated[float | None, "minutes after birth, or after the episode began"]
    due_minutes: NotRequired[Annotated[float | None, "last minute of the window"]]
    reason: Annotated[str | None, "why it was not done"]
    title: Annotated[str, "of the measure"]
    parent_id: Annotated[str | None, "name of the measure's file"]
    kind: Annotated[str, "of the measure"]
    direction: Annotated[str, "higher, lower or neither is better"]
    window_words: Annotated[str | None, "the window in words"]
    position: Annotated[int, "place of the measure in the order of the pages"]
    grade: Annotated[str | None, "sort of row, where gravity differs by it"]
    value: Annotated[float | None, "reading that the state rests on, in value_unit"]
    value_minutes: Annotated[float | None, "when it was read, minutes after birth"]
    edge: Annotated[float | None, "what it was held against, in value_unit"]
    value_unit: Annotated[str | None, "symbol of its unit"]
    detail: Annotated[str | None, "what the row is of: which medicine, which finding"]
    level: Annotated[str, "how grave it is: sentinel, serious, process or descriptive"]
    why: Annotated[str, "why it is so grave"]


class BornRow(TypedDict):
    """``born``: one row per newborn of the month, in order of birth."""

    record_id: Annotated[str, "study key"]
    shift: Annotated[str | None, "day or night"]
    place: Annotated[int, "running order of births in the month"]
    newborns: Annotated[int, "newborns of the month"]


class WorklistSettingRow(TypedDict):
    """``worklist_setting``: one row, what the unit's file says of the worklist."""

    find_chart: Annotated[str | None, "how a chart is found with the study key, a sentence"]
    approved_by: Annotated[str | None, "role that approved how grave each miss is"]
    approved_on: Annotated[pd.Timestamp | None, "when; missing: nobody has yet"]


class WorklistReadRow(TypedDict):
    """``worklist_read``: one row per month whose worklist came back, and outcome."""

    month: Annotated[pd.Timestamp, "month of birth"]
    outcome: Annotated[str | None, "what was found; missing: not read yet"]
    newborns: Annotated[int, "newborns"]


class WorklistRejectedRow(TypedDict):
    """``worklist_rejected``: one row per line of a worklist that was not read."""

    file_name: Annotated[str, "file beside the unit's"]
    file_line: Annotated[int, "line of that file"]
    rejected: Annotated[str, "why"]


class ReasonRow(TypedDict):
    """``reasons``: one row per measure, state and reason of what was not met in the month."""

    measure_id: MeasureId
    state: Annotated[str, "late, not_done, ..., exception or exclusion"]
    reason: Annotated[str | None, "why"]
    newborns: Annotated[int, "newborns or items"]
    median_late_minutes: Annotated[float | None, "minutes after the window closed"]


class LeftToUnitRow(TypedDict):
    """``left_to_unit``: one row per measure whose misses put no record on the worklist."""

    measure_id: MeasureId
    because: Annotated[str, "listed or headline: the setting that says so"]


class RecordFlagRow(TypedDict):
    """``record_flags``: one row per flagged value of a newborn of the month."""

    record_id: Annotated[str, "study key"]
    table_name: Annotated[str, "canonical table"]
    column_name: Annotated[str, "canonical column"]
    recorded_value: Annotated[str | None, "as the export has it"]
    rule_id: Annotated[str, "rule that found it"]
    severity: Annotated[str, "error or query"]
    explanation: Annotated[str | None, "what probably happened"]
    suggestion: Annotated[str | None, "what the value may have been"]
    source_file: Annotated[str | None, "export file"]
    source_line: Annotated[int | None, "line of that file"]


class FlagRuleRow(TypedDict):
    """``flag_rules``: one row per rule and column."""

    severity: Annotated[str, "error, query or note"]
    rule_id: Annotated[str, "rule"]
    table_name: Annotated[str | None, "canonical table"]
    column_name: Annotated[str | None, "canonical column"]
    is_whole: Annotated[bool, "about a whole file, column, shift or month, not one value"]
    explanation: Annotated[str | None, "of one of its flags"]
    in_month: Annotated[int, "flags on newborns of the month"]
    in_all: Annotated[int, "flags of the whole load"]


class UnjudgedRow(TypedDict):
    """``unjudged``: one row per check that could not be judged."""

    rule_id: Annotated[str, "rule"]
    table_name: Annotated[str | None, "canonical table"]
    why: Annotated[str, "why it could not run"]


class RestatedRow(TypedDict):
    """``restated``: one row per number of an earlier month shown otherwise before, and build."""

    unit: Annotated[str, "id"]
    measure_id: MeasureId
    period_start: Annotated[pd.Timestamp, "month of birth"]
    noticed_at: Annotated[pd.Timestamp, "build that found it, UTC"]
    shown_at: Annotated[pd.Timestamp | None, "load of the store that showed it, UTC"]
    old_numerator: Annotated[int, "newborns"]
    new_numerator: Annotated[int, "newborns"]
    old_counted: Annotated[int, "newborns"]
    new_counted: Annotated[int, "newborns"]
    old_rate: Annotated[float | None, "share"]
    new_rate: Annotated[float | None, "share"]
    changed: Annotated[str | None, "what differs"]
    why: Annotated[str | None, "in words"]
    title: Annotated[str, "of the measure"]
    kind: Annotated[str, "of the measure"]


class GroupRow(TypedDict):
    """``groups``: one row per measure, group of newborns (or other unit) and whole quarter."""

    measure_id: MeasureId
    split_by: Annotated[str, "stratifier, or unit"]
    group_name: Annotated[str, "stratum, or title of the other unit"]
    quarter: Annotated[pd.Timestamp, "its first day"]
    numerator: Annotated[int, "newborns or items, met"]
    counted: Annotated[int, "newborns or items the rate is made of"]
    rate: Annotated[float, "share"]
    lower: Annotated[float | None, "share; end of the 95 % interval"]
    upper: Annotated[float | None, "share; end of the 95 % interval"]


class RecordRow(TypedDict):
    """One row per newborn whose record is read: first all sentinels, then the sample."""

    record_id: Annotated[str, "study key"]
    tier: Annotated[str, "read_now or sample"]
    reasons: Annotated[int, "how many, grave or not"]
    what: Annotated[list[str], "the gravest reasons: measure, reading or minutes, how far out"]
    why: Annotated[list[str], "why these matter, each once"]
    also: Annotated[list[str], "the other reasons, gravest first"]
    look_at: Annotated[list[str], "what to check in the record for the gravest, each once"]
    minutes_late: Annotated[float | None, "largest of the late items; missing: none is late"]


class GravestRow(TypedDict):
    """One row per newborn (or item) and measure that should never happen, as the list shows it."""

    record_id: Annotated[str, "study key"]
    measure_id: MeasureId
    state: Annotated[str, "met, late, not_done, not_met, not_documented or unusable"]
    words: Annotated[str, "measure, reading or minutes, how far out"]


class CountedRow(TypedDict):
    """One row per measure and level that names no record, or of which a sample is read."""

    measure_id: MeasureId
    title: Annotated[str, "of the measure"]
    level: Annotated[str, "serious, process or descriptive"]
    newborns: Annotated[int, "newborns of the month"]


class SinceRow(TypedDict):
    """One row per signal of which there is news since the review of the month before."""

    measure_id: MeasureId
    title: Annotated[str, "of the measure"]
    sense: Annotated[str, "worse, better or moved"]
    news: Annotated[str, "new, still open, answered or settled"]
    words: Annotated[str, "the signal in a few words"]
