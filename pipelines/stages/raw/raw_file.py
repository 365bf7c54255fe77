"""One export file as it is loaded, whatever its format: what every reader fills in."""

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pipelines.base.sql import quote
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_readings import PLAIN, Marks
from pipelines.definitions.unit_takes import ExportFile

# A line of the n-th of several files that are read as one is n << PART_BITS + its own line.
PART_BITS: Final = 24
# What a message may call the place of a row; a sheet has rows, a text file lines.
LINE: Final = "line"


@dataclass
class Part:
    """One of several files that are read as one: what the load log says of it."""

    name: str
    content_hash: str
    rows_in: int = 0
    notes: list[str] = field(default_factory=list)


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
    # Files alike that are read as one table; then source_line says which, and which line.
    parts: list[Part] = field(default_factory=list)
    # What a reader keeps between finding the names and reading the rows.
    kept: Any = None

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def table(self) -> str:
        return f"raw.file_{self.index}"

    @property
    def every_part(self) -> list[Part]:
        """The files that are read, one or several."""
        return self.parts or [Part(self.name, self.content_hash, self.rows_in, self.notes)]

    def part_of(self, line: str) -> str:
        """Return SQL: which of the files a source_line is of, from 0."""
        return f"({line} >> {PART_BITS})" if self.parts else "0"

    def name_of(self, line: str) -> str:
        """Return SQL: the name of the file that a source_line is of."""
        if not self.parts:
            return quote(self.name)
        names = ", ".join(quote(part.name) for part in self.parts)
        return f"list_extract([{names}], {self.part_of(line)} + 1)"

    def line_of(self, line: str) -> str:
        """Return SQL: the line in its own file that a source_line says."""
        return f"({line} & {(1 << PART_BITS) - 1})" if self.parts else line

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
