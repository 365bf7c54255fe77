"""An export's text as SQL: trimmed, joined, and in the letters in which words are compared."""

from collections.abc import Sequence

from pipelines.base.sql import quote
from pipelines.definitions.unit_takes import Source
from pipelines.stages.raw.raw_file import RawFile


def folded(word: str) -> str:
    """Return SQL for a word of a unit file in the letters in which the export is compared.

    Both sides go through the same function: Python's folding makes "ss" of a sharp s, DuckDB's
    lower() does not.
    """
    return f"lower({quote(word)})"


def said(name: str, codes: Sequence[str]) -> str:
    """Return SQL for the trimmed text of one raw column, null where it says nothing."""
    text = f"nullif(trim({name}), '')"
    if not codes:
        return text
    return f"if(lower(trim({name})) in ({', '.join(folded(code) for code in codes)}), null, {text})"


def part_texts(raw: RawFile, source: Source) -> list[str]:
    """Return the text of each column of a source apart, null where the export lacks the column."""
    names = [raw.column(local) for local in source.columns]
    return ["cast(null as varchar)" if name is None else said(name, source.codes) for name in names]


def recorded_text(raw: RawFile, source: Source) -> str:
    """Return the trimmed text as the export has it; several columns are joined.

    A text that the unit's file says stands for no value is none, as a blank cell is.
    """
    if source.value is not None:
        return quote(source.value)
    names = [raw.column(local) for local in source.columns]
    present = [said(name, source.codes) for name in names if name is not None]
    if len(present) < len(names):
        return "cast(null as varchar)"
    if len(present) == 1:
        return present[0]
    joiner = "'+'" if source.form == "weeks_and_days" else "' '"
    return f"nullif(concat_ws({joiner}, {', '.join(present)}), '')"
