"""The columns of a folder of exports, and what their texts look like: what a draft is made from.

Read here: delimiter, encoding, header, and of the first rows what each column holds. Nothing of a
single newborn leaves this module: counts, ranges of nine in ten, and words that are known and
stand on enough newborns.
"""

import csv
import io
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import islice
from os.path import commonprefix
from pathlib import Path
from typing import Final

import numpy as np

from pipelines.base.errors import ExportError
from pipelines.definitions.identifiers import RULES, rule_of
from pipelines.definitions.local_words import plain, vocabulary
from pipelines.definitions.safe_to_say import is_known, looks_like_a_cell
from pipelines.drafts.other_formats import ENDINGS, is_export, read_tables, reader_of
from pipelines.stages.raw.export_files import DELIMITERS, files_of, holds
from pipelines.stages.raw.opened import opened
from pipelines.stages.raw.time_forms import CLOCK, MONTH, date_forms_of, forms_of
from pipelines.stages.typed.rare_words import ENOUGH_NEWBORNS

_ENCODINGS: Final = ("utf-8-sig", "cp1252")
_SAMPLE: Final = 5_000  # rows of a file; the first tell how a column is written
_LOOKED_AT: Final = 300  # texts of a column by which its form is told
_MOST_WORDS: Final = 60
_NUMBER: Final = re.compile(r"[-+]?\d+([.,]\d+)?")
_OFFSET: Final = re.compile(r"\d{2}:\d{2}(:\d{2}(\.\d+)?)?\s?(Z|[+-]\d{2}:?\d{2})$")
WEEKS_AND_DAYS: Final = re.compile(r"\d\d ?(\+|w|/| ) ?\d ?(/7|d)?")


@dataclass
class Local:
    """A column of an export, or two that are one (a date and a time): its cells in row order."""

    names: tuple[str, ...]
    cells: list[str]

    @cached_property
    def texts(self) -> list[str]:
        return [cell for cell in self.cells if cell]

    @property
    def words(self) -> tuple[str, ...]:
        return plain(self.names[0])

    def _mostly(self, form: re.Pattern[str]) -> bool:
        # A slip in one entry must not hide what the column is.
        few = self.texts[:_LOOKED_AT]
        return bool(few) and sum(bool(form.fullmatch(one)) for one in few) >= 0.9 * len(few)

    @cached_property
    def forms(self) -> list[str]:
        """The written forms of a date with a time that its texts fit."""
        return forms_of(self.texts[:_LOOKED_AT]) if self._has_digits(8) else []

    def _has_digits(self, least: int) -> bool:
        """Whether its texts have the digits of a date: quicker to ask than every form."""
        few = self.texts[:_LOOKED_AT]
        enough = sum(sum(one.isdigit() for one in text) >= least for text in few)
        return bool(few) and enough >= 0.9 * len(few)

    @cached_property
    def has_offset(self) -> bool:
        few = self.texts[:_LOOKED_AT]
        return bool(few) and sum(bool(_OFFSET.search(one)) for one in few) >= 0.5 * len(few)

    @cached_property
    def date_forms(self) -> list[str]:
        return date_forms_of(self.texts[:_LOOKED_AT]) if self._has_digits(6) else []

    @cached_property
    def is_clock(self) -> bool:
        return self._mostly(CLOCK)

    @cached_property
    def is_month(self) -> bool:
        return self._mostly(MONTH)

    @cached_property
    def is_number(self) -> bool:
        return self._mostly(_NUMBER)

    @cached_property
    def is_gestation(self) -> bool:
        return self._mostly(WEEKS_AND_DAYS)

    @property
    def is_time(self) -> bool:
        return bool(self.forms) or self.has_offset

    @cached_property
    def has_comma(self) -> bool:
        commas = sum("," in text for text in self.texts)
        return self.is_number and commas >= 0.2 * len(self.texts)

    @cached_property
    def numbers(self) -> np.ndarray:
        found = [text.replace(",", ".") for text in self.texts if _NUMBER.fullmatch(text)]
        return np.array(found, dtype=float)

    @cached_property
    def middle(self) -> tuple[float, float, float]:
        """The bounds of nine in ten numbers, and their median; not those of single newborns."""
        low, mid, high = np.quantile(self.numbers, [0.05, 0.5, 0.95])
        return float(low), float(mid), float(high)

    @cached_property
    def is_whole(self) -> bool:
        return bool(len(self.numbers)) and bool((self.numbers == np.round(self.numbers)).all())

    @cached_property
    def distinct(self) -> set[str]:
        return set(self.texts)

    @cached_property
    def identifies(self) -> str | None:
        """The rule of the identifier guard by which a build would refuse it, if it were mapped."""
        if self.is_time or self.date_forms or self.is_clock:
            return None
        return rule_of(self.names[0], set(list(self.distinct)[:500]))

    @cached_property
    def is_choice(self) -> bool:
        """Whether it holds words of a list, not numbers, times or one text for each row."""
        other = self.is_time or self.date_forms or self.is_clock or self.is_month
        if other or self.is_gestation or not self.texts:
            return False
        few = len({text.casefold() for text in self.distinct})
        return few <= _MOST_WORDS and few <= max(12, 0.2 * len(self.texts))


@dataclass
class Shape:
    """Export files with one header. A file that is no text has no delimiter and no encoding.

    ``sheet``: which of a workbook's, where several hold something.
    """

    header: tuple[str, ...]
    delimiter: str
    encoding: str
    sheet: str | None = None
    paths: list[Path] = field(default_factory=list)
    columns: list[Local] = field(default_factory=list)
    key: Local | None = None

    @property
    def pattern(self) -> str:
        if len(self.paths) == 1:
            return self.paths[0].name
        common = commonprefix([path.stem for path in self.paths])  # noqa: RUF071 - letters are meant
        return f"{common.rstrip('0123456789')}*{self.paths[0].suffix}"

    @property
    def name(self) -> str:
        """What tells it from the others of a folder."""
        return f"{self.pattern}#{self.sheet}" if self.sheet else self.pattern

    @property
    def rows(self) -> int:
        return len(self.columns[0].cells) if self.columns else 0

    def newborns_with(self, local: Local) -> dict[str, int]:
        """Return each word of a list (small letters) -> on how many newborns it stands."""
        keys = self.key.cells if self.key else [str(place) for place in range(self.rows)]
        found: dict[str, set[str]] = defaultdict(set)
        for key, cell in zip(keys, local.cells, strict=True):
            if cell:
                found[cell.casefold()].add(key)
        return {word: len(of) for word, of in found.items()}

    def words_of(self, local: Local) -> list[str]:
        """Return the words of a list that may be copied, those on most newborns first.

        Known words alone, on enough newborns; the most frequent spelling of each.
        """
        if not local.is_choice:
            return []
        newborns = self.newborns_with(local)
        spelt: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
        for text in local.texts:
            spelt[text.casefold()][text] += 1
        kept = [word for word, n in newborns.items() if n >= ENOUGH_NEWBORNS and is_known(word)]
        kept.sort(key=lambda word: (-newborns[word], word))
        return [max(spelt[word], key=lambda one: spelt[word][one]) for word in kept]

    def looks(self, local: Local) -> str:
        """Say what a column holds, in kinds and known words."""
        if not local.texts:
            return "empty"
        if local is self.key:
            return "the key, by which files are joined"
        if local.identifies:
            return f"looks like {RULES[local.identifies]}: leave it out of the export"
        for is_so, said in (
            (local.has_offset, "times with an offset"),
            (bool(local.forms), "times"),
            (bool(local.date_forms), "dates"),
            (local.is_clock, "times of day"),
            (local.is_month, "months"),
            (local.is_gestation, "weeks and days"),
        ):
            if is_so:
                return said
        words = self.words_of(local)
        if local.is_number:
            return "numbers" + (" with a decimal comma" if local.has_comma else "")
        return f"words: {', '.join(words)}" if words else "texts"


def _decoded(path: Path) -> tuple[str, str]:
    with opened(path) as stream:
        content = stream.read()
    for encoding in _ENCODINGS:
        try:
            return content.decode(encoding), encoding.removesuffix("-sig")
        except UnicodeDecodeError:
            continue
    raise ExportError(
        f"{path.name}: neither {' nor '.join(_ENCODINGS)}; save it as UTF-8 and try again."
    )


def _read(path: Path) -> tuple[str, str, list[list[str]]]:
    """Return encoding, delimiter and the first rows. Raises ExportError where there are none."""
    text, encoding = _decoded(path)
    first = text.split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows = [row for row in islice(reader, _SAMPLE) if row]
    if not rows or not any(cell.strip() for cell in rows[0]):
        raise ExportError(f"{path.name}: the first line is blank; it must name the columns.")
    return encoding, delimiter, rows


def _refuse_record(path: Path, header: Sequence[str], columns: Sequence[Local]) -> None:
    """Refuse a first line that is a record: its cells must not be copied as names of columns."""
    named = [(name, one) for name, one in zip(header, columns, strict=True) if name]
    cells = sum(looks_like_a_cell(name) and len(name) > 2 for name, _ in named)
    again = sum([t.casefold() for t in one.texts].count(name.casefold()) > 1 for name, one in named)
    known = sum(any(word in vocabulary() for word in plain(name)) for name, _ in named)
    apart = sum((one.is_number or one.is_time) and not looks_like_a_cell(n) for n, one in named)
    is_header = known >= 0.2 * len(named) or apart >= 0.3 * len(named)
    if cells or again > 0.25 * len(named) or not is_header:
        raise ExportError(
            f"{path.name}: the first line looks like a record, not like names of columns "
            f"({len(named)} cells, {cells} of them dates, times or long numbers). A draft would "
            "copy a newborn's values: add a line with the names of the columns, and try again."
        )


def _columns(header: Sequence[str], rows: Sequence[Sequence[str]]) -> list[Local]:
    kept = [row for row in rows[1:] if len(row) == len(header)]
    return [
        Local((name,), [row[place].strip() for row in kept]) for place, name in enumerate(header)
    ]


def read_shapes(folder: Path) -> list[Shape]:
    """Return the files of a folder, those with one header together.

    Raises ExportError where the folder holds no export that can be read, or one without a header.
    """
    paths = [path for path in files_of(folder) if is_export(path)]
    if not paths:
        raise ExportError(f"{folder}: no file ends in {', '.join(ENDINGS)}. {holds(folder)}")
    found: dict[tuple[str | None, tuple[str, ...]], Shape] = {}
    for path in paths:
        for new in _shapes_of(path):
            shape = found.setdefault((new.sheet, new.header), new)
            if shape is not new:
                _join(shape, new)
    return list(found.values())


def _shapes_of(path: Path) -> Iterator[Shape]:
    """Yield the tables of one file: one, or one for each sheet of a workbook."""
    if reader_of(path).name == "text":
        encoding, delimiter, rows = _read(path)
        header = tuple(name.strip() for name in rows[0])
        columns = _columns(header, rows)
        yield _shape(path, header, columns, delimiter=delimiter, encoding=encoding)
        return
    for table in read_tables(path, _SAMPLE):
        header = tuple(table.header)
        columns = _columns(header, [table.header, *table.rows])
        # Where a format knows its names no first line can be a record.
        named = reader_of(path).has_name_row
        yield _shape(path, header, columns, sheet=table.sheet, has_name_row=named)


def _shape(
    path: Path,
    header: tuple[str, ...],
    columns: list[Local],
    *,
    delimiter: str = "",
    encoding: str = "",
    sheet: str | None = None,
    has_name_row: bool = True,
) -> Shape:
    if has_name_row:
        _refuse_record(path, header, columns)
    return Shape(header, delimiter, encoding, sheet, [path], columns)


def _join(shape: Shape, new: Shape) -> None:
    shape.encoding = new.encoding if new.encoding != "utf-8" else shape.encoding
    shape.paths += new.paths
    if shape.rows < _SAMPLE // 4:  # a short first file of a pattern tells little
        shape.columns = [
            Local(one.names, [*old.cells, *one.cells])
            for old, one in zip(shape.columns, new.columns, strict=True)
        ]
