"""Worklists that came back: what a person found in the record of a newborn it lists.

A small CSV beside the unit file: ``lanugo worklist`` writes it, a person fills in outcome, note,
role and date. A line that cannot be meant is kept with its reason and counts as not read; what
stands in a note goes into the store and nowhere else.
"""

import csv
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import duckdb

from pipelines.base.spreadsheets import plain_cell
from pipelines.definitions.unit_csv import WORKLIST, WORKLIST_TO_FILL, check_header
from pipelines.definitions.worklist import OUTCOMES
from pipelines.stages.judged.unit_lines import lay


@dataclass(frozen=True)
class WorklistLine:
    """One newborn of one worklist; without an outcome it is still open."""

    unit: str
    record_id: str
    month: str
    outcome: str | None
    note: str | None
    role: str | None
    read_on: str | None
    file_name: str
    file_line: int
    rejected: str | None = None


def _refusal(row: dict[str, str]) -> str | None:
    """Say why a line cannot be meant; no value of a newborn and no note stands in it."""
    is_open = not any(row[name] for name in WORKLIST_TO_FILL)
    refusals = {
        "record_id is empty": not row["record_id"],
        "month must be written as 2026-03": not _is_date(f"{row['month']}-01"),
        # What stands there may be a note in the wrong column, so it is not repeated.
        f"outcome must be one of: {', '.join(OUTCOMES)}": not is_open
        and row["outcome"] not in OUTCOMES,
        "role is empty": not is_open and not row["role"],
        "date must be written as 2026-03-01": not is_open and not _is_date(row["date"]),
    }
    return next((why for why, is_so in refusals.items() if is_so), None)


def _is_date(text: str) -> bool:
    try:
        return dt.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def read_worklist(path: Path, unit: str) -> list[WorklistLine]:
    """Read one worklist, every line of it, those that cannot be meant with their reason.

    Raises DeclarationError where a column is missing or not known.
    """
    found = []
    with path.open(newline="", encoding="utf-8-sig") as stream:
        reader = csv.DictReader(stream)
        check_header(path, reader.fieldnames, WORKLIST)
        for cells in reader:
            row = {name: plain_cell(cells.get(name)) for name in WORKLIST.read}
            row["outcome"] = row["outcome"].lower()
            found.append(_line(unit, path, reader.line_num, row))
    return found


def _line(unit: str, path: Path, number: int, row: dict[str, str]) -> WorklistLine:
    why = _refusal(row)
    outcome, note, role, read_on = (None if why else row[name] or None for name in WORKLIST_TO_FILL)
    return WorklistLine(
        unit,
        row["record_id"],
        row["month"],
        outcome,
        note,
        role,
        read_on,
        path.name,
        number,
        why,
    )


def read_worklists(paths: Sequence[Path], unit: str) -> list[WorklistLine]:
    """Read all worklists of a unit; of a newborn filled in twice in a month the first stands."""
    first: dict[tuple[str, str], WorklistLine] = {}
    found = []
    for line in (line for path in paths for line in read_worklist(path, unit)):
        before = line
        if line.outcome is not None:
            before = first.setdefault((line.record_id, line.month), line)
        where = f"filled in already at {before.file_name} line {before.file_line}"
        found.append(line if before is line else replace(line, outcome=None, rejected=where))
    return found


def apply_worklists(connection: duckdb.DuckDBPyConnection, lines: Sequence[WorklistLine]) -> None:
    """Fill ``judged.worklist_line``: one row per line, rejected where its newborn is not here."""
    lay(connection, "worklist_line", WorklistLine, lines, as_given="given_line")
