"""The frames of the data quality page: one class a frame, its grain, its columns with unit."""

from typing import Annotated, TypedDict

import pandas as pd

MeasureId = Annotated[str, "name of its file, or of the band"]


class FlagRow(TypedDict):
    """``flags``: one row per flag."""

    record_id: Annotated[str | None, "study key; missing: on a whole file or column"]
    table_name: Annotated[str, "canonical table"]
    kind: Annotated[str | None, "kind of the event"]
    column_name: Annotated[str, "canonical column"]
    recorded_value: Annotated[str | None, "as the export has it"]
    rule_id: Annotated[str, "rule that found it"]
    severity: Annotated[str, "error, query or note"]
    explanation: Annotated[str, "what probably happened"]
    suggestion: Annotated[str | None, "what the value may have been"]
    source_file: Annotated[str | None, "export file"]
    source_line: Annotated[int | None, "line of that file"]
    answer: Annotated[str | None, "confirmed or wrong; missing: open"]
    answered_by: Annotated[str | None, "role"]
    answer_reason: Annotated[str | None, "in the unit's words"]
    month: Annotated[pd.Timestamp | None, "month of birth of the newborn"]


class CheckRow(FlagRow):
    """One row per open flag to look up in the chart."""

    title: Annotated[str, "its group on the worklist"]
    look: Annotated[str, "where to look"]


class SpanCounts(TypedDict):
    """What every row of ``rates`` says; counts are newborns or items."""

    span: Annotated[str, "last 12 months or all months"]
    measure_id: MeasureId
    parent_id: Annotated[str | None, "name of its file"]
    title: Annotated[str, "of the measure"]
    kind: Annotated[str, "of the measure"]
    is_silent: Annotated[bool, "the whole export has no usable record of the measure"]
    denominator: Annotated[int, "to whom it applies"]
    not_documented: Annotated[int, "nothing on record"]
    unusable: Annotated[int, "recorded, not believable"]
    numerator: Annotated[int, "met"]
    counted: Annotated[int, "whom the rate is made of"]


class RateRow(SpanCounts):
    """``rates``: one row per measure and span, with flagged values masked and as recorded."""

    recorded_numerator: Annotated[float | None, "met, flagged values used as recorded"]
    recorded_counted: Annotated[float | None, "counted, flagged values used as recorded"]
    recorded_unusable: Annotated[float | None, "not readable even so"]
    rate: Annotated[float | None, "share"]
    recorded_rate: Annotated[float | None, "share, flagged values used as recorded"]


class MovedRateRow(SpanCounts):
    """One row per measure and span whose rate flags move; both rates are known."""

    recorded_numerator: Annotated[float, "met, flagged values used as recorded"]
    recorded_counted: Annotated[float, "counted, flagged values used as recorded"]
    recorded_unusable: Annotated[float, "not readable even so"]
    rate: Annotated[float, "share"]
    recorded_rate: Annotated[float, "share, flagged values used as recorded"]
    points: Annotated[float, "percentage points that masking adds"]


class MaskedRow(TypedDict):
    """``masked``: one row per measure and rule that masks a value of it."""

    measure_id: MeasureId
    rule_id: Annotated[str, "rule"]
    newborns: Annotated[int, "newborns"]


class CompletenessRow(TypedDict):
    """``completeness``: one row per column, kind or column of a kind and month of birth."""

    table_name: Annotated[str, "canonical table"]
    kind: Annotated[str | None, "kind of event; missing: an admission column"]
    column_name: Annotated[str, "canonical column; 'kind': newborns with an event of it"]
    month: Annotated[pd.Timestamp | None, "month of birth"]
    newborns: Annotated[int, "newborns of the month"]
    total: Annotated[int, "what is counted: newborns or rows"]
    recorded: Annotated[int, "of these, with any text"]
    usable: Annotated[int, "of these, that can be used"]


class CellRow(TypedDict):
    """One row per month of one line of the picture; missing where the store has no row."""

    share: Annotated[float | None, "usable, share of total"]
    total: Annotated[float | None, "newborns or rows"]


class LowestRow(TypedDict):
    """The month of a line with the lowest share."""

    month: pd.Timestamp
    share: Annotated[float, "usable, share of total"]


class ReadingRow(TypedDict):
    """``values``: one row per kind of reading and value."""

    kind: Annotated[str, "temperature, respiratory_rate or heart_rate"]
    value: Annotated[float, "canonical unit of the kind"]
    readings: Annotated[int, "how often"]


class MinuteRow(TypedDict):
    """``minutes``: one row per whole minute after birth."""

    value: Annotated[int, "minutes after birth"]
    entries: Annotated[int, "how often"]


class AnswerRow(TypedDict):
    """``answers``: one row per answer of the unit."""

    record_id: Annotated[str | None, "study key"]
    table_name: Annotated[str | None, "canonical table; missing: any"]
    column_name: Annotated[str | None, "canonical column"]
    recorded_value: Annotated[str | None, "value it was given for; missing: any"]
    decision: Annotated[str | None, "confirmed or wrong"]
    role: Annotated[str | None, "of who answered"]
    why: Annotated[str | None, "in the unit's words"]
    file_line: Annotated[int | None, "line of the file of answers"]
    flags: Annotated[int, "flags it matched"]


class VerdictRow(TypedDict):
    """``verdict``: one row per check."""

    rule_id: Annotated[str, "rule"]
    table_name: Annotated[str | None, "canonical table"]
    title: Annotated[str | None, "the rule in words"]
    severity: Annotated[str | None, "error, query or note"]
    why: Annotated[str | None, "why it could not be judged; missing: it was"]


class SettingsRow(TypedDict):
    """One row: what the unit changed in the checks."""

    checks_off: Annotated[list[str] | None, "rules switched off"]
    checks_set: Annotated[list[str] | None, "numbers set otherwise, in words"]


class UnmappedRow(TypedDict):
    """One row per word on no recode list, the most frequent first."""

    table_name: Annotated[str, "canonical table"]
    column_name: Annotated[str, "canonical column"]
    word: Annotated[str | None, "as the export has it"]
    entries: Annotated[int, "how often"]
    first_month: Annotated[pd.Timestamp | None, "first month of birth with it"]
    last_month: Annotated[pd.Timestamp | None, "last month of birth with it"]


class DigitRow(TypedDict):
    """``Heap.digits``: one row per last digit, 0 to 9."""

    digit: Annotated[str, "0 to 9"]
    observed: Annotated[float, "share of readings"]
    expected: Annotated[float, "share of readings"]
    stands_out: Annotated[bool, "above what is expected, by five points and beyond chance"]
