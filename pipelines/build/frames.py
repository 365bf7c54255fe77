"""The frames of what is doubtful after a build: grain, columns, units."""

from typing import Annotated, NotRequired, TypedDict


class DoubtRow(TypedDict):
    """What every row of a doubt says: which column, how many flags."""

    unit: Annotated[str, "id"]
    table_name: Annotated[str, "canonical table"]
    kind: NotRequired[Annotated[str | None, "kind of event"]]
    column_name: Annotated[str, "canonical column"]
    local_column: Annotated[str | None, "columns of the export"]
    flags: Annotated[int, "flags"]
    recorded_value: Annotated[str | None, "the most frequent value or shape; the word"]


class DoubtfulColumnRow(DoubtRow):
    """One row per column (of one kind of event) and rule where most entries carry one flag."""

    rule_id: Annotated[str, "rule"]
    explanation: Annotated[str | None, "of most of its flags"]


class DoubtfulWordRow(DoubtRow):
    """One row per word (or shape of words) on no recode list that stands often."""

    source_file: Annotated[str | None, "export file in which it stands first"]
    source_line: Annotated[int | None, "line of that file"]


class DoubtfulMeasureRow(TypedDict):
    """One row per unit and measure file of which the export has no usable record."""

    unit: Annotated[str, "id"]
    measure_id: Annotated[str, "name of its file"]
    position: Annotated[int, "place in the order of the pages"]
    missing_column: Annotated[str | None, "that says whom it is about, and nobody has"]
