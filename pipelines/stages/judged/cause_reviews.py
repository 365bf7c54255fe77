"""Cause reviews: the unit read a cold newborn's record and says which cause comes first.

A small CSV beside the unit file: one line per newborn. A newborn without a line is not yet
reviewed, and stays in every picture as such.
"""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.causes import causes
from pipelines.definitions.unit_csv import CAUSE_REVIEWS, check_header
from pipelines.stages.judged.unit_lines import lay


@dataclass(frozen=True)
class CauseReview:
    """The cause that a person assigned to one newborn's cold arrival."""

    unit: str
    record_id: str
    cause: str
    role: str
    file_line: int


def _check(where: str, row: dict[str, str]) -> None:
    for name in ("record_id", "role"):
        if not row[name]:
            raise DeclarationError(f"{where}: '{name}' is empty; fill it in or take the line out.")
    if row["cause"] not in causes():
        raise DeclarationError(
            f"{where}: cause '{row['cause']}' is not known.{nearest(row['cause'], causes())}"
        )


def read_cause_reviews(path: Path, unit: str) -> list[CauseReview]:
    """Read one file of cause reviews; a line without a cause is still open and is passed over.

    Raises DeclarationError naming file, line and column where a line cannot be meant, and
    where a newborn has two lines.
    """
    if not path.is_file():
        raise DeclarationError(f"{path.name}: there is no such file of cause reviews.")
    lines: dict[str, int] = {}
    found: list[CauseReview] = []
    with path.open(newline="", encoding="utf-8-sig") as stream:
        reader = csv.DictReader(stream)
        check_header(path, reader.fieldnames, CAUSE_REVIEWS)
        for cells in reader:
            row = {name: (cells.get(name) or "").strip() for name in CAUSE_REVIEWS.read}
            if not row["cause"]:
                continue
            _check(f"{path.name} line {reader.line_num}", row)
            first = lines.setdefault(row["record_id"], reader.line_num)
            if first != reader.line_num:
                raise DeclarationError(
                    f"{path.name} lines {first} and {reader.line_num} review the same newborn; "
                    "keep one."
                )
            found.append(CauseReview(unit=unit, file_line=reader.line_num, **row))
    return found


def apply_cause_reviews(
    connection: duckdb.DuckDBPyConnection, reviews: Sequence[CauseReview]
) -> None:
    """Fill ``judged.cause_review``: every review, and whether its newborn is in this load."""
    lay(connection, "cause_review", CauseReview, reviews, as_given="given_review")
