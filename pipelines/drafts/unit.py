"""A draft of a unit's file from the columns of its exports: someone who knows them completes it.

The draft says how each file is written (delimiter, encoding, form of the times) and what each
column holds. A canonical column is filled in only where the export's own name says it, and is
marked to be checked. No single newborn's value is copied: of words only those that stand often.
"""

import csv
import datetime as dt
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from os.path import commonprefix
from pathlib import Path
from typing import Final

from pipelines.base.errors import DeclarationError, ExportError
from pipelines.base.measuring_units import CONVERSIONS
from pipelines.base.whole_files import write_whole
from pipelines.definitions.read_contract import Column, read_contract
from pipelines.definitions.read_units import UNIT_ID
from pipelines.stages.raw.export_files import DELIMITERS, files_of, holds
from pipelines.stages.raw.time_forms import MONTH, forms_of

_ENDINGS: Final = (".csv", ".tsv", ".txt")
_ENCODINGS: Final = ("utf-8-sig", "cp1252")
_LEAST: Final = 5  # times that a word must stand before it is copied
_MOST_WORDS: Final = 15
_SAMPLE: Final = 5_000  # rows of a file; the first tell how a column is written
_UNIT_WORDS: Final = {"g": "g", "kg": "kg", "cm": "cm", "mm": "mm", "c": "Cel", "f": "[degF]"}
_SUFFIX: Final = re.compile(r"_(g|cm|c|minutes|days)$")
_NUMBER: Final = re.compile(r"[-+]?\d+([.,]\d+)?")
_WEEKS_AND_DAYS: Final = re.compile(r"\d\d ?\+ ?\d")
_LONGEST: Final = (3, 40)  # words and letters of one choice of a list; longer is free text


@dataclass
class _Local:
    """One column of an export: its name and what its texts look like."""

    name: str
    texts: list[str]

    def __post_init__(self) -> None:
        self.counts = Counter(self.texts)
        # A slip in one entry must not hide what the column is.
        few = self.texts[:200]
        self.forms = forms_of(few)
        self.is_month = bool(few) and all(MONTH.fullmatch(text) for text in few)
        self.is_number = self._mostly(_NUMBER, few)
        self.is_gestation = self._mostly(_WEEKS_AND_DAYS, few)

    @staticmethod
    def _mostly(form: re.Pattern[str], texts: list[str]) -> bool:
        return bool(texts) and sum(bool(form.fullmatch(one)) for one in texts) >= 0.9 * len(texts)

    @property
    def words(self) -> list[str]:
        """The words of a list of choices, most frequent first; none where it is no such list."""
        is_other = self.forms or self.is_month or self.is_number or self.is_gestation
        if is_other or len(self.counts) > 4 * _MOST_WORDS:
            return []
        often = [word for word, number in self.counts.most_common() if number >= _LEAST]
        covered = sum(self.counts[word] for word in often)
        is_free = any(len(one.split()) > _LONGEST[0] or len(one) > _LONGEST[1] for one in often)
        if is_free or covered < 0.8 * len(self.texts):
            return []
        # Capitals do not tell words of a list apart; the most frequent spelling stands.
        return list({word.lower(): word for word in reversed(often)}.values())[::-1][:_MOST_WORDS]

    @property
    def is_key(self) -> bool:
        plain = not (self.forms or self.is_month)
        return plain and len(self.texts) > 1 and len(self.counts) >= 0.98 * len(self.texts)

    @property
    def looks(self) -> str:
        if not self.texts:
            return "empty"
        if self.forms:
            return "times"
        if self.is_month:
            return "months"
        if self.is_number:
            return "numbers"
        if self.is_gestation:
            return "weeks and days"
        return f"words: {', '.join(self.words)}" if self.words else "texts"


@dataclass
class _Shape:
    """Export files with one header."""

    header: tuple[str, ...]
    delimiter: str
    encoding: str
    paths: list[Path] = field(default_factory=list)
    columns: list[_Local] = field(default_factory=list)

    @property
    def pattern(self) -> str:
        if len(self.paths) == 1:
            return self.paths[0].name
        common = commonprefix([path.stem for path in self.paths])  # noqa: RUF071 - letters are meant
        return f"{common.rstrip('0123456789')}*{self.paths[0].suffix}"

    @property
    def key(self) -> _Local | None:
        """The first column in which no text stands twice: probably the study key."""
        return next((one for one in self.columns if one.is_key), None)


def _read(path: Path) -> tuple[str, str, list[list[str]]]:
    """Return encoding, delimiter and the first rows. Raises ExportError where there are none."""
    content = path.read_bytes()
    for encoding in _ENCODINGS:
        try:
            text = content.decode(encoding)
            break
        except UnicodeDecodeError:
            continue
    else:
        raise ExportError(
            f"{path.name}: neither {' nor '.join(_ENCODINGS)}; save it as UTF-8 and try again."
        )
    first = text.split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows = [row for row in islice(reader, _SAMPLE) if row]
    if not rows or not rows[0]:
        raise ExportError(f"{path.name}: the first line is blank; it must name the columns.")
    return ("utf-8" if encoding == "utf-8-sig" else encoding), delimiter, rows


def _shapes(folder: Path) -> list[_Shape]:
    paths = [path for path in files_of(folder) if path.suffix.lower() in _ENDINGS]
    if not paths:
        raise ExportError(
            f"{folder}: no file ends in {', '.join(_ENDINGS)}. {holds(folder)} "
            "Save a spreadsheet as CSV first."
        )
    found: dict[tuple[str, ...], _Shape] = {}
    for path in paths:
        encoding, delimiter, rows = _read(path)
        header = tuple(name.strip() for name in rows[0])
        shape = found.setdefault(header, _Shape(header, delimiter, encoding))
        shape.encoding = encoding if encoding != "utf-8" else shape.encoding
        shape.paths.append(path)
        if not shape.columns:
            shape.columns = [_Local(name, _texts(rows, at)) for at, name in enumerate(header)]
    # The file with one row per newborn, whose key is unique, comes first.
    return sorted(found.values(), key=lambda shape: (shape.key is None, -len(shape.header)))


def _texts(rows: Sequence[Sequence[str]], place: int) -> list[str]:
    cells = (row[place].strip() for row in rows[1:] if len(row) > place)
    return [cell for cell in cells if cell]


def _plain(name: str) -> list[str]:
    """Return the words of a name in plain lower-case letters."""
    letters = unicodedata.normalize("NFKD", name.casefold())
    return re.findall(r"[a-z]+|\d+", letters.encode("ascii", "ignore").decode())


def _is_measured(column: Column) -> bool:
    """Whether an export may give it in several units: not a score, a count or a time."""
    return len(CONVERSIONS.get(column.unit or "", {})) > 1 and column.type == "decimal"


def _guess(column: Column, shape: _Shape) -> tuple[_Local, str | None] | None:
    """Return the export's column whose own name says the canonical one, and its unit."""
    wanted = _plain(_SUFFIX.sub("", column.name))
    for local in shape.columns:
        words = _plain(local.name)
        units = [_UNIT_WORDS[word] for word in words if word in _UNIT_WORDS]
        if [word for word in words if word not in _UNIT_WORDS] != wanted:
            continue
        if not _is_measured(column):
            return local, None
        if units and units[0] in CONVERSIONS.get(column.unit or "", {}):
            return local, units[0]
    return None


def _text(value: str) -> str:
    """Return a TOML string; line breaks and quotes in a name cannot leave it."""
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return (
        '"' + "".join(one if one.isprintable() else f"\\u{ord(one):04x}" for one in escaped) + '"'
    )


def _comment(value: str) -> str:
    return "".join(one if one.isprintable() else " " for one in value)


def _empty(column: Column) -> str:
    """Return the form of a source to fill in."""
    if column.name == "gestational_age_days":
        return '{ from = "", form = "weeks_and_days" }'
    if _is_measured(column):
        return f'{{ from = "", unit = "{column.unit}" }}'
    return '{ from = "", recode = "" }' if column.type in {"code", "boolean"} else '""'


def _list_name(local: _Local) -> str:
    return "_".join(_plain(local.name)) or "list"


def _columns(shape: _Shape, is_clock: bool) -> Iterator[str]:
    yield "[files.takes.columns]"
    for column in read_contract()["admission"].columns.values():
        if is_clock and column.name.startswith("birth_") and column.type in {"month", "integer"}:
            continue
        if not is_clock and column.type == "instant":
            continue
        about = " ".join(column.description.split())
        if column.allowed:
            about += f" One of: {', '.join(column.allowed)}."
        guess = _guess(column, shape)
        if column.name == "record_id":
            guess = (shape.key, None) if shape.key else None
        if guess is None:
            yield f"# {column.name} = {_empty(column)}  # {about}"
            continue
        local, unit = guess
        if unit:
            source = f'{{ from = {_text(local.name)}, unit = "{unit}" }}'
        elif local.words:
            source = f'{{ from = {_text(local.name)}, recode = "{_list_name(local)}" }}'
        else:
            source = _text(local.name)
        yield f"{column.name} = {source}  # check. {about}"


def _events(shape: _Shape) -> Iterator[str]:
    """A commented take of each kind of table, to be copied once for each reading or dose."""
    key = _text(shape.key.name if shape.key else "")
    for table in read_contract().values():
        if not table.is_event:
            continue
        allowed = ", ".join(table.columns["kind"].allowed)
        yield ""
        yield f"# {table.title}: {' '.join(table.description.split())}"
        yield "# [[files.takes]]"
        yield f'# table = "{table.name}"'
        yield "# [files.takes.columns]"
        yield f"# record_id = {key}"
        yield f'# kind = {{ value = "" }}  # {f"one of: {allowed}" if allowed else "its name"}'
        for column in table.columns.values():
            if column.name not in {"record_id", "kind"}:
                yield f'# {column.name} = ""  # {" ".join(column.description.split())}'


def _lists(shapes: Sequence[_Shape], text: str) -> Iterator[str]:
    """A recode list for every column of words; of a column not used yet, as comments."""
    done: set[str] = set()
    for local in (local for shape in shapes for local in shape.columns):
        name = _list_name(local)
        if not local.words or name in done:
            continue
        done.add(name)
        mark = "" if f'recode = "{name}"' in text else "# "
        yield ""
        yield f"# column {_text(local.name)}: write what each word means; rare words are not shown"
        yield f"{mark}[recodes.{name}]"
        yield from (f'{mark}{_text(word)} = ""' for word in local.words)


def _file(shape: _Shape, first: bool, is_clock: bool) -> Iterator[str]:
    mark = "" if first else "# "
    yield ""
    if not first:
        yield "# Another file: take the # away from these lines and from the takes that it holds."
    yield f"{mark}[[files]]"
    yield f"{mark}pattern = {_text(shape.pattern)}"
    yield f"{mark}delimiter = {_text(shape.delimiter)}"
    yield f'{mark}encoding = "{shape.encoding}"'
    yield "# What its columns hold:"
    yield from (f"#   {_text(one.name)}: {_comment(one.looks)}" for one in shape.columns)
    if first:
        yield ""
        yield "[[files.takes]]"
        yield 'table = "admission"'
        yield from _columns(shape, is_clock)
    yield from _events(shape)


def draft(unit_id: str, folder: Path) -> tuple[str, list[str]]:
    """Return the text of a unit file and what was filled in from the exports' names.

    Raises ExportError where the folder holds no export that can be read.
    """
    shapes = _shapes(folder)
    # By columns: one with few entries fits a day before the month and a month before the day.
    fitting = Counter(form for shape in shapes for one in shape.columns for form in one.forms)
    forms = [form for form, _ in fitting.most_common()]
    is_clock = bool(forms)
    lines = [
        f"# A draft, written on {dt.date.today()} from the exports' own columns. Complete it with",
        "# someone who knows them; lines marked 'check' were filled in from a name. Then:",
        "# lanugo build --unit THIS_FILE --exports FOLDER --dry-run",
        "# Columns, words: pipelines/definitions/dictionary.md. Full examples: units/ beside it.",
        f'id = "{unit_id}"',
        f'title = "{unit_id.replace("_", " ").title()}"',
        "",
        "[time]",
        f'form = "{"clock" if is_clock else "minutes"}"',
    ]
    if is_clock:
        lines += ['zone = ""  # where the clocks hang, as Area/City']
        lines += [f"formats = [{', '.join(_text(form) for form in forms[:1])}]"]
        lines += [
            f"# These fit as well, look at a day after the 12th: {form}" for form in forms[1:]
        ]
    for place, shape in enumerate(shapes):
        lines += _file(shape, place == 0, is_clock)
    lines += _lists(shapes, "\n".join(lines))
    filled = [line.split(" = ")[0] for line in lines if "  # check. " in line]
    return "\n".join(lines) + "\n", filled


def write_draft(unit_id: str, folder: Path, out: Path) -> list[str]:
    """Write a draft; never over an existing file. Return the columns that were filled in.

    Raises DeclarationError where the id is not fit for a unit or the file is there already.
    """
    if not UNIT_ID.fullmatch(unit_id):
        raise DeclarationError(
            f"'{unit_id}' cannot name a unit: use lower-case letters, digits and underscores."
        )
    if out.exists():
        raise DeclarationError(f"{out}: there is such a file already; choose another with --out.")
    text, filled = draft(unit_id, folder)
    write_whole(out, text)
    return filled
