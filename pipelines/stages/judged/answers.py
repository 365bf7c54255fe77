"""Answers to flags: the unit says of a flagged value that it is true, or that it is wrong.

A small CSV beside the unit file. The export is never edited and the flag keeps its history:
an answer is laid on the flag, and a value answered "wrong" is masked, one answered "confirmed"
is used. An answer that names a recorded value holds only while the export still has it.
"""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.spreadsheets import plain_cell
from pipelines.definitions.unit_csv import ANSWERS, check_header
from pipelines.stages.judged.unit_lines import lay

DECISIONS = ("confirmed", "wrong")


@dataclass(frozen=True)
class Answer:
    """One decision on one cell. Empty optional fields match any."""

    unit: str
    record_id: str
    column_name: str
    decision: str
    role: str
    why: str
    table_name: str | None = None
    recorded_value: str | None = None
    source_line: int | None = None
    file_line: int = 0


def _check(where: str, row: dict[str, str]) -> None:
    for name in ANSWERS.needed:
        if not row.get(name):
            raise DeclarationError(f"{where}: '{name}' is empty; fill it in or take the line out.")
    if row["decision"] not in DECISIONS:
        raise DeclarationError(
            f"{where}: decision '{row['decision']}' is not known."
            f"{nearest(row['decision'], DECISIONS)}"
        )
    if row.get("source_line") and not row["source_line"].isdigit():
        raise DeclarationError(f"{where}: source_line must be the number of a line.")


def read_answers(path: Path, unit: str) -> list[Answer]:
    """Read one file of answers; a line without a decision is still open and is passed over.

    Raises DeclarationError naming file, line and column where an answer cannot be meant.
    """
    if not path.is_file():
        raise DeclarationError(f"{path.name}: there is no such file of answers.")
    found: list[Answer] = []
    with path.open(newline="", encoding="utf-8-sig") as stream:
        reader = csv.DictReader(stream)
        check_header(path, reader.fieldnames, ANSWERS)
        for cells in reader:
            row = {name: plain_cell(cells.get(name)) for name in ANSWERS.read}
            if not row["decision"]:
                continue
            where = f"{path.name} line {reader.line_num}"
            _check(where, row)
            found.append(_answer(unit, row, reader.line_num))
    _refuse_contradictions(path, found)
    return found


def _answer(unit: str, row: dict[str, str], file_line: int) -> Answer:
    return Answer(
        unit,
        row["record_id"],
        row["column_name"],
        row["decision"],
        row["role"],
        row["why"],
        row["table_name"] or None,
        row["recorded_value"] or None,
        int(row["source_line"]) if row["source_line"] else None,
        file_line,
    )


def _refuse_contradictions(path: Path, answers: Iterable[Answer]) -> None:
    seen: dict[tuple[object, ...], Answer] = {}
    for answer in answers:
        cell = (
            answer.record_id,
            answer.column_name,
            answer.table_name,
            answer.recorded_value,
            answer.source_line,
        )
        first = seen.setdefault(cell, answer)
        if first.decision != answer.decision:
            raise DeclarationError(
                f"{path.name} lines {first.file_line} and {answer.file_line} answer the same "
                "cell differently; keep one."
            )


def apply_answers(connection: duckdb.DuckDBPyConnection, answers: Sequence[Answer]) -> None:
    """Lay answers on ``judged.flag`` and keep every answer in ``judged.answer``.

    ``judged.answer`` says of each whether a flag of this build matched it; one that matched
    none was answered for a value that has since changed, or names a cell without a flag.
    """
    lay(connection, "answer", Answer, answers, as_given="given_answer")
