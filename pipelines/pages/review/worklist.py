"""The worklist as a file: one row per newborn who needs a look, for a person with the chart.

It names records, so it stays inside the unit. Every cell is safe to open in a spreadsheet.
"""

from pathlib import Path
from typing import Final

import pandas as pd

from pipelines.base.errors import StoreError
from pipelines.base.frames import rows_of
from pipelines.base.spreadsheets import csv_text
from pipelines.base.whole_files import write_whole
from pipelines.definitions.states import URGENCY_WORDS
from pipelines.pages.review.frames import RecordRow
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.records import records_to_read

COLUMNS: Final = ("record_id", "urgency", "reasons", "minutes_late", "check_in_record")


def _line(row: RecordRow) -> list[str]:
    reasons = ". ".join(f"{label}: {'; '.join(words)}".rstrip(".") for label, words in row["lines"])
    late = row["minutes_late"]
    return [
        row["record_id"],
        URGENCY_WORDS[row["urgency"]],
        reasons,
        "" if late is None else f"{late:g}",
        "; ".join(row["look_at"]),
    ]


def worklist(data: ReviewData) -> pd.DataFrame:
    """Return one row per newborn of the month who needs a look, the most urgent first.

    Columns, all text: record_id, urgency (in words), reasons (all together), minutes_late (the
    largest; blank where nothing is late), check_in_record (what to look at).
    """
    lines = [_line(row) for row in rows_of(records_to_read(data), RecordRow)]
    return pd.DataFrame(lines, columns=list(COLUMNS), dtype=object)


def write_worklist(
    store_path: Path, unit: str, month: str | None, out: Path, force: bool = False
) -> int:
    """Write the worklist of one unit and month ('2026-04'; None: the last full month).

    Returns how many newborns it lists. Never over an existing file unless ``force``: someone may
    have written in it. Raises StoreError then, and where store, unit or month is not there or
    the file cannot be written.
    """
    if out.exists() and not force:
        raise StoreError(f"{out}: is there already and may hold notes; name another file.")
    lines = worklist(read_review(store_path, unit, month))
    write_whole(out, csv_text(COLUMNS, list(lines.itertuples(index=False))))
    return len(lines)
