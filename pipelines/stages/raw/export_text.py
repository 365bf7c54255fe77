"""An export's text as SQL: trimmed, joined, and in the letters in which words are compared."""

from pipelines.base.sql import quote
from pipelines.definitions.read_units import Source
from pipelines.stages.raw.export_files import RawFile


def folded(word: str) -> str:
    """Return SQL for a word of a unit file in the letters in which the export is compared.

    Both sides go through the same function: Python's folding makes "ss" of a sharp s, DuckDB's
    lower() does not.
    """
    return f"lower({quote(word)})"


def recorded_text(raw: RawFile, source: Source) -> str:
    """Return the trimmed text as the export has it; several columns are joined."""
    if source.value is not None:
        return quote(source.value)
    names = [raw.column(local) for local in source.columns]
    present = [f"nullif(trim({name}), '')" for name in names if name is not None]
    if len(present) < len(names):
        return "cast(null as varchar)"
    if len(present) == 1:
        return present[0]
    joiner = "'+'" if source.form == "weeks_and_days" else "' '"
    return f"nullif(concat_ws({joiner}, {', '.join(present)}), '')"
