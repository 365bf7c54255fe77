"""The frames of the fixed SQL of this room, and of a measure as it stands in a month.

One class a frame: its docstring is the grain, each line a column with its type and what it is in
or means. ``None`` in a type says that a value may be missing. Shares are of 1, not percents.
"""

from typing import Annotated, NotRequired, TypedDict

import pandas as pd

from pipelines.reading.life import LifeNow
from pipelines.reading.signals import MovedRow
from pipelines.reading.standing import StandingRow
from pipelines.reading.thinner import ThinnerRow

Share = Annotated[float | None, "share of 1; missing where nobody counts"]


class UnitRow(TypedDict):
    """One row: the unit."""

    unit: Annotated[str, "id"]
    title: Annotated[str, "name for readers"]
    time_form: Annotated[str | None, "how its export writes times: clock or minutes"]
    keep_birth_date: Annotated[bool | None, "whether the store keeps dates of birth"]
    unit_file_hash: Annotated[str | None, "SHA-256 of the unit's file"]


class UnitTitleRow(TypedDict):
    """One row per unit of the store."""

    unit: Annotated[str, "id"]
    title: Annotated[str, "name for readers"]


class MonthRow(TypedDict):
    """One row per month of birth of the unit."""

    month: Annotated[pd.Timestamp | None, "first day; missing: no readable month of birth"]
    births: Annotated[int, "live births"]
    newborns: Annotated[int, "all newborns of the export"]


class LoadRow(TypedDict):
    """One row per export file of the unit."""

    source_file: Annotated[str, "name of the file"]
    content_hash: Annotated[str | None, "SHA-256 of the file"]
    rows_in: Annotated[int, "rows without the header"]
    rows_kept: Annotated[int, "rows"]
    rows_rejected: Annotated[int, "rows"]
    loaded_at: Annotated[pd.Timestamp, "when it was read, UTC"]
    note: Annotated[str | None, "what else was noticed"]


class RejectedRow(TypedDict):
    """One row per export file and reason for which rows were rejected."""

    source_file: Annotated[str, "name of the file"]
    reason: Annotated[str, "in words, without line numbers"]
    rows_rejected: Annotated[int, "rows"]


class BuildRow(TypedDict):
    """One row per fact of the build."""

    key: Annotated[str, "name of the fact"]
    value: Annotated[str | None, "the fact"]


class SilentRow(TypedDict):
    """One row per measure of which the unit's export has no usable record."""

    measure_id: Annotated[str, "name of its file, or of the band"]


class InfoRow(TypedDict):
    """One row per measure of shares: what it is, from its file's header."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    parent_id: Annotated[str | None, "name of its file"]
    title: Annotated[str, "short name"]
    question: Annotated[str | None, "the question it answers"]
    group_name: Annotated[str, "heading under which the pages show it"]
    kind: Annotated[str, "proportion, episode, ...: what one row of it is"]
    direction: Annotated[str, "higher, lower or neither is better"]
    anchor: Annotated[str | None, "from when minutes count, in words"]
    window_words: Annotated[str | None, "its window in words"]
    window_status: Annotated[str | None, "published, published in part or local"]
    exceptions: Annotated[str | None, "accepted reasons, in words"]
    exclusions: Annotated[str | None, "whom it does not apply to, in words"]
    missing: Annotated[str, "not_met or left_out: how the undocumented count"]
    target_words: Annotated[str | None, "its target in words"]
    sources: Annotated[str | None, "in words, with years"]
    disagreement: Annotated[str | None, "where sources differ"]
    documentation_trap: Annotated[str | None, "how records mislead"]
    caution: Annotated[str | None, "in words"]
    balancing: Annotated[list[str] | None, "measure_ids to read beside it"]
    look_at: NotRequired[Annotated[list[str] | None, "what to check in a record that it lists"]]
    also_called: NotRequired[Annotated[list[str] | None, "other words people search for it by"]]
    version: Annotated[str, "of its file"]
    position: Annotated[int, "place in the order of the pages"]
    value_unit: NotRequired[Annotated[str | None, "of the reading that a state rests on"]]
    numerator_words: Annotated[str | None, "what is counted"]
    population_words: Annotated[str | None, "among whom"]


class Figures(TypedDict):
    """The counts and the rate of one measure in one period; counts are newborns or items."""

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
    counted: Annotated[int, "whom the rate is made of"]
    is_silent: Annotated[bool, "the whole export has no usable record of the measure"]
    missing_column: Annotated[str | None, "that says whom it is about, and nobody has: admission.x"]
    rate: Share
    lower: Annotated[float | None, "share; lower end of the 95 % Wilson interval"]
    upper: Annotated[float | None, "share; upper end of the 95 % Wilson interval"]
    if_none_met: Annotated[float | None, "share, were none of the unknown met"]
    if_all_met: Annotated[float | None, "share, were all of the unknown met"]
    target: Annotated[float | None, "share; missing where none is set"]
    undocumented_share: Annotated[float | None, "not_documented, share of the denominator"]


class SeriesRow(Figures):
    """One row per measure and month, from the first month of the store on, without gaps."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    month: Annotated[pd.Timestamp, "month of birth, its first day"]


class ChangeRow(TypedDict):
    """``changes``: one row per recorded change or policy date and measure it touches."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    start_on: Annotated[pd.Timestamp | None, "first day of it"]
    words: Annotated[str | None, "what changed"]
    kind: Annotated[str, "change or policy"]


class BirthRow(TypedDict):
    """One row per newborn (or item) that the rate of a rare measure is made of, in order."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    month: Annotated[pd.Timestamp | None, "month of birth"]
    born_on: Annotated[pd.Timestamp | None, "date of birth, where the unit keeps it"]
    is_met: Annotated[bool, "met"]


class LogRow(TypedDict):
    """One row per change in the unit's log."""

    change_id: Annotated[str, "id in the unit's file"]
    start_on: Annotated[pd.Timestamp, "first day of it"]
    title: Annotated[str, "in words"]
    measures: Annotated[list[str] | None, "measures it was meant to move"]
    balancing: Annotated[list[str] | None, "measures that could get worse"]
    process: Annotated[list[str] | None, "measures or columns that show it was carried out"]


class ValueRow(TypedDict):
    """One row per measure (or column of newborns) and month: the mean of what was measured."""

    measure_id: Annotated[str, "name of its file, of the band, or of the column"]
    month: Annotated[pd.Timestamp, "month of birth, its first day"]
    name: Annotated[str, "title for readers"]
    value_unit: Annotated[str, "symbol; min: mean and spread are of logarithms of minutes"]
    readings: Annotated[int, "how many have one"]
    mean: Annotated[float, "in value_unit"]
    spread: Annotated[float | None, "standard deviation among them; missing for one alone"]


class MeasureNow(InfoRow, Figures, MovedRow, ThinnerRow, LifeNow, StandingRow):
    """One row per measure: what it is, its figures in one month, whether it moved, how it stands.

    From reading/sql/measures.sql, reading/sql/series.sql, signals.moved, thinner.thinner, life.now
    and standing.stand.
    """
