"""The worklist as a file: the records to read, for a person with the chart to fill in.

It names records, so it stays inside the unit. Every cell is safe to open in a spreadsheet. The
columns outcome, note, role and date come back at the next build: ``stages/judged/worklist_lines``.
"""

from pathlib import Path
from typing import Final

import pandas as pd

from pipelines.base.errors import StoreError
from pipelines.base.frames import rows_of
from pipelines.base.spreadsheets import csv_text
from pipelines.base.whole_files import write_whole
from pipelines.definitions.unit_csv import WORKLIST, WORKLIST_KEY, WORKLIST_TO_FILL
from pipelines.pages.review.frames import RecordRow
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.record_list import born
from pipelines.pages.review.records import records_to_read

COLUMNS: Final = (*WORKLIST_KEY, *WORKLIST.for_reading)
_TIER: Final = {"read_now": "now", "sample": "sample"}


def _line(row: RecordRow, month: str, born_on: str) -> list[str]:
    late = row["minutes_late"]
    return [
        row["record_id"],
        month,
        _TIER[row["tier"]],
        born_on,
        "; ".join([*row["what"], *row["also"]]),
        " ".join(row["why"]),
        "" if late is None else f"{late:g}",
        "; ".join(row["look_at"]),
    ]


def worklist(data: ReviewData) -> pd.DataFrame:
    """Return one row per newborn whose record is read, as the page lists them.

    Columns, all text: record_id, month ('2026-04'), read (now or sample), born (month, shift and
    running order), reasons (all together, the gravest first), why_it_matters, minutes_late (the
    largest; blank where nothing is late), check_in_record (what to look at).
    """
    month, born_of = f"{data.month:%Y-%m}", born(data)
    lines = [
        _line(row, month, born_of.get(row["record_id"], ""))
        for row in rows_of(records_to_read(data), RecordRow)
    ]
    return pd.DataFrame(lines, columns=list(COLUMNS), dtype=object)


def write_worklist(
    store_path: Path, unit: str, month: str | None, out: Path, force: bool = False
) -> int:
    """Write the worklist of one unit and month ('2026-04'; None: the last full month).

    The last four columns are blank, to fill in. Returns how many newborns it lists. Never over an
    existing file unless ``force``: someone may have written in it. Raises StoreError then, and
    where store, unit or month is not there or the file cannot be written.
    """
    if out.exists() and not force:
        raise StoreError(f"{out}: is there already and may hold notes; name another file.")
    lines = worklist(read_review(store_path, unit, month))
    empty = [""] * len(WORKLIST_TO_FILL)
    rows = [[*line, *empty] for line in lines.itertuples(index=False)]
    write_whole(out, csv_text([*COLUMNS, *WORKLIST_TO_FILL], rows))
    return len(lines)
