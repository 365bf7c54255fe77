"""The rows of a unit's CSV exports in the contract's words, to be written in another format.

Read by the unit's file with Python's own csv and clocks, not by the program's reading layer.
"""

import csv
import datetime as dt
import hashlib
import zoneinfo
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_takes import ExportFile, Take


@dataclass(frozen=True)
class Cell:
    """A cell: its text, and whether the unit's word list did not know it."""

    text: str
    is_unknown: bool = False


@dataclass(frozen=True)
class Row:
    """One row of an export: table, key, cells by canonical column, a mark of its content."""

    table: str
    key: str
    cells: Mapping[str, Cell]
    mark: str

    def text(self, name: str) -> str:
        return self.cells[name].text if name in self.cells else ""


def read_rows(unit: Unit, exports: Path) -> Iterator[Row]:
    """Yield every row of the exports in the order of the unit's file, repeats and all."""
    for file in unit.files:
        for path in sorted(exports.glob(file.pattern)):
            yield from _rows_of(unit, file, path)


def _rows_of(unit: Unit, file: ExportFile, path: Path) -> Iterator[Row]:
    encoding = "utf-8-sig" if file.encoding == "utf-8" else file.encoding
    with path.open(encoding=encoding, newline="") as stream:
        for record in csv.DictReader(stream, delimiter=file.delimiter):
            said = {name: (record.get(name) or "").strip() for name in file.local_columns}
            mark = _mark(said)
            for take in file.takes:
                cells = _cells(unit, take, said)
                key = cells.pop("record_id", Cell("")).text
                yield Row(take.table, key, cells, mark)


def _mark(said: Mapping[str, str]) -> str:
    """Return a short mark of what a row says, blind to case; it becomes the id of a resource."""
    content = "\x1f".join(text.lower() for text in said.values())
    return hashlib.sha256(content.encode()).hexdigest()[:24]


def _cells(unit: Unit, take: Take, said: Mapping[str, str]) -> dict[str, Cell]:
    cells: dict[str, Cell] = {}
    for name, source in take.sources.items():
        text = source.value or " ".join(said[local] for local in source.columns).strip()
        if not text:
            continue
        if source.recode is None:
            cells[name] = Cell(text)
            continue
        words = {local.lower(): row for local, row in unit.recodes[source.recode].items()}
        found = words.get(text.lower())
        if found is None:
            cells[name] = Cell(text, is_unknown=True)
        for column, word in (found or {}).items():
            cells[column or name] = Cell(word)
    return cells


def instant(unit: Unit, text: str) -> str | None:
    """Return a local clock time as FHIR writes an instant; None where it cannot be read.

    Of an hour that the clocks show twice the second is meant, as the program takes it.
    """
    return _instant(unit.zone or "UTC", unit.formats, text)


@lru_cache(maxsize=200_000)
def _instant(zone_name: str, forms: tuple[str, ...], text: str) -> str | None:
    zone = zoneinfo.ZoneInfo(zone_name)
    for form in forms:
        try:
            read = dt.datetime.strptime(text, form)
        except ValueError:
            continue
        return read.replace(tzinfo=zone, fold=1).isoformat() if 1900 < read.year < 2200 else None
    return None
