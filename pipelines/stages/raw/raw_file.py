"""One export file as it is loaded, whatever its format: what every reader fills in."""

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_readings import PLAIN, Marks
from pipelines.definitions.unit_takes import ExportFile

# What a message may call the place of a row; a sheet has rows, a text file lines.
LINE: Final = "line"


@dataclass
class RawFile:
    """One export file as loaded: table ``raw.<table>`` with source_line and c0, c1, ..."""

    unit: Unit
    spec: ExportFile
    path: Path
    index: int
    header: list[str]
    # The line of the names; 0 where the file has none and the unit's file gives them.
    header_line: int = 1
    content_hash: str = ""
    rows_in: int = 0
    ragged: list[tuple[int, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    # Forms in which a reader writes times that are no text in the file, beside the declared ones.
    own_forms: tuple[str, ...] = ()
    # Whether each entry has an id by which its reader has told versions and repeats apart.
    has_ids: bool = False
    # Whether the names of columns are the program's own: one that is not there has nothing to
    # say in this file, and nobody misspelt or dropped it.
    has_own_names: bool = False
    # What a reader keeps between finding the names and reading the rows.
    kept: Any = None

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def table(self) -> str:
        return f"raw.file_{self.index}"

    def column(self, local: str) -> str | None:
        """Return the raw column that holds a local column, or None if the export lacks it."""
        return f"c{self.header.index(local)}" if local in self.header else None

    def marks(self, local: str) -> Marks:
        """Return the marks in which numbers of a local column are declared to be written."""
        for take in self.spec.takes:
            for source in take.sources.values():
                if local in source.columns:
                    return source.marks
        return PLAIN


def by_place(names: list[str]) -> list[str]:
    """Return names in which one that stands twice carries its place among its like.

    >>> by_place(["Key", "Temp", "Temp"])
    ['Key', 'Temp#1', 'Temp#2']
    """
    seen: dict[str, int] = {}
    told = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        told.append(f"{name}#{seen[name]}" if name and names.count(name) > 1 else name)
    return told


def plain_name(name: str) -> str:
    """Return the name of a column on one line and without blanks around it."""
    return re.sub(r"\s*[\r\n]+\s*", " ", name).strip().removeprefix("\ufeff")
