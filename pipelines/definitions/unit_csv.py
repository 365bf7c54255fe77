"""The small CSV files that a unit keeps beside its own: answers to flags, worklists that came back,
reviews of causes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipelines.base.errors import DeclarationError, nearest


@dataclass(frozen=True)
class Columns:
    """The columns of such a file. ``for_reading``: written for the reader, not read back."""

    needed: tuple[str, ...]
    optional: tuple[str, ...] = ()
    for_reading: tuple[str, ...] = ()

    @property
    def read(self) -> tuple[str, ...]:
        return (*self.needed, *self.optional)


ANSWERS = Columns(
    needed=("record_id", "column_name", "decision", "role", "why"),
    optional=("table_name", "recorded_value", "source_line"),
    for_reading=("explanation", "suggestion", "rule_id", "severity", "source_file"),
)
WORKLIST_KEY = ("record_id", "month")
WORKLIST_TO_FILL = ("outcome", "note", "role", "date")
WORKLIST = Columns(
    needed=(*WORKLIST_KEY, *WORKLIST_TO_FILL),
    for_reading=(
        "read",
        "born",
        "reasons",
        "why_it_matters",
        "minutes_late",
        "check_in_record",
    ),
)
CAUSE_REVIEWS = Columns(needed=("record_id", "cause", "role"))


def check_header(path: Path, names: Sequence[str] | None, columns: Columns) -> None:
    """Raise DeclarationError naming the first column that is not known, or is missing."""
    known = (*columns.read, *columns.for_reading)
    for name in names or ():
        if name not in known:
            raise DeclarationError(
                f"{path.name} line 1: column '{name}' is not known.{nearest(name, known)}"
            )
    for name in columns.needed:
        if name not in (names or ()):
            raise DeclarationError(f"{path.name} line 1: column '{name}' is missing; add it.")
