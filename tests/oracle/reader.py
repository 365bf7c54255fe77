"""Read one unit's raw export with nothing but the standard library.

This is the oracle's own reading of a unit file and of its CSV exports: it shares no code
with `pipelines`, so that a mistake there cannot hide here. Numbers are exact fractions,
and loops over rows are meant: they read like the prose they check.
"""

import csv
import datetime as dt
import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatch
from fractions import Fraction
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from .rare_words import hide
from .values import (
    MONTH,
    Unreadable,
    gestation_days,
    instant,
    minutes_of,
    number,
    round_half_up,
    to_canonical,
)

PIPELINES = Path(__file__).parents[2] / "pipelines"


@dataclass(frozen=True)
class FlaggedCell:
    """A cell that a judgement made unusable.

    ``place`` numbers the takes of one file from 1 where one line gives several rows of a
    table; None stands for whichever row the line gave.
    """

    table: str
    source_file: str
    source_line: int
    column: str
    place: int | None = None


@dataclass(slots=True)
class Row:
    """One row of a canonical table, with where it came from.

    ``cells`` holds the readable, believable values; ``unusable`` names the columns whose
    text was there but could not be used.
    """

    table: str
    unit: str
    record_id: str
    source_file: str
    source_line: int
    place: int
    cells: dict[str, Any] = field(default_factory=dict)
    unusable: set[str] = field(default_factory=set)

    def get(self, column: str) -> Any:
        """Return the usable value of a column, None where there is none."""
        return self.cells.get(column)

    def mask(self, column: str) -> None:
        """Take the value away and remember that there was one."""
        self.cells.pop(column, None)
        self.unusable.add(column)


@dataclass
class Newborn:
    """One newborn: the admission row, the events, and the day policy is chosen by."""

    admission: Row
    policy_date: dt.date | None
    events: list[Row] = field(default_factory=list)
    birth_hour: int | None = None
    least_age: Fraction | None = None
    # (table, kind) of every event that the unit's exports have, for any newborn.
    charted: frozenset[tuple[str, str]] = frozenset()
    _kinds: dict[tuple[str, str], list[Row]] | None = None

    @property
    def record_id(self) -> str:
        return self.admission.record_id

    @property
    def period(self) -> str | None:
        """Month of birth as YYYY-MM, None where it is not known."""
        return f"{self.policy_date:%Y-%m}" if self.policy_date else None

    def get(self, column: str) -> Any:
        """Return an admission value, None where there is none."""
        return self.admission.get(column)

    def of_kind(self, table: str, kind: str) -> list[Row]:
        """Return the events of one table and kind, in export order."""
        if self._kinds is None:
            self._kinds = {}
            for row in self.events:
                self._kinds.setdefault((row.table, row.get("kind")), []).append(row)
        return self._kinds.get((table, kind), [])

    def forget_kinds(self) -> None:
        """Sort the events into kinds again: a cell of theirs was masked."""
        self._kinds = None


def tell_what_is_charted(newborns: Sequence[Newborn]) -> None:
    """Tell each newborn of a unit which kinds of event its exports have at all, in place."""
    kinds = frozenset((row.table, row.get("kind")) for each in newborns for row in each.events)
    for newborn in newborns:
        newborn.charted = kinds


@dataclass
class UnitExport:
    """Everything read from one unit's folder of exports."""

    unit: str
    spec: Mapping[str, Any]
    newborns: list[Newborn]
    rejected: list[Row]

    @property
    def rows(self) -> list[Row]:
        """Every row that was kept, admissions and events."""
        return [row for newborn in self.newborns for row in [newborn.admission, *newborn.events]]


def read_contract() -> dict[str, dict[str, Any]]:
    """Return the contract's tables as their TOML says, by table name."""
    return {
        path.stem: tomllib.loads(path.read_text(encoding="utf-8"))
        for path in sorted((PIPELINES / "definitions" / "contract").glob("*.toml"))
    }


class UnitReader:
    """Reads the exports of one unit, told how by the unit's TOML file."""

    def __init__(self, unit_toml: Path) -> None:
        self.spec = tomllib.loads(unit_toml.read_text(encoding="utf-8"))
        self.contract = read_contract()
        self.time = self.spec["time"]
        self.formats = tuple(
            self.time.get("formats", ["%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S"])
        )
        self.births: dict[str, dt.datetime | None] = {}
        # The same few texts stand in many cells: each is read once.
        self.read_before: dict[tuple[Any, ...], tuple[Any, bool]] = {}

    # --- from a file to the text of canonical columns -------------------------------------

    def _lines(self, path: Path, file: Mapping[str, Any]) -> Iterator[tuple[int, dict[str, str]]]:
        """Yield (line where the row begins, local column -> trimmed text)."""
        encoding = file.get("encoding", "utf-8")
        encoding = "utf-8-sig" if encoding.lower() == "utf-8" else encoding
        with path.open(encoding=encoding, newline="") as handle:
            rows = csv.reader(handle, delimiter=file.get("delimiter", ","))
            names = [name.strip() for name in next(rows)]
            begins = rows.line_num + 1
            for cells in rows:
                if any(cell.strip() for cell in cells):
                    texts = (cell.strip() for cell in cells)
                    yield begins, dict(zip(names, texts, strict=False))
                begins = rows.line_num + 1

    def _recode(self, name: str, text: str, column: str) -> dict[str, str]:
        """Return canonical column -> canonical text; an unknown code gives the text itself.

        A column of codes then refuses it; a column of the unit's own categories keeps it.
        """
        for local, target in self.spec["recodes"][name].items():
            if local.strip().casefold() == text.casefold():
                return dict(target) if isinstance(target, dict) else {column: target}
        return {column: text}

    def _text_of(self, spec: Any, local: Mapping[str, str]) -> str:
        if isinstance(spec, str):
            return local.get(spec, "")
        origin = spec["from"]
        if isinstance(origin, str):
            return local.get(origin, "")
        parts = [local.get(name, "") for name in origin]
        joint = "+" if spec.get("form") else " "
        return joint.join(part for part in parts if part)

    def _take_row(
        self, take: Mapping[str, Any], local: Mapping[str, str]
    ) -> dict[str, tuple[str, Any]] | None:
        """Return column -> (canonical text, source spec), None where the line has no such row.

        A line has a row where any mapped column other than the record id has text: the
        constants of a take alone do not make an event.
        """
        row: dict[str, tuple[str, Any]] = {}
        has_text = False
        for column, spec in take["columns"].items():
            if isinstance(spec, dict) and "value" in spec:
                row.setdefault(column, (spec["value"], spec))
                continue
            text = self._text_of(spec, local)
            if not text:
                continue
            has_text = has_text or column != "record_id"
            if isinstance(spec, dict) and spec.get("recode"):
                for target, value in self._recode(spec["recode"], text, column).items():
                    row[target] = (value, spec)
            else:
                row[column] = (text, spec)
        return row if has_text else None

    def raw_rows(self, folder: Path) -> Iterator[tuple[Row, dict[str, tuple[str, Any]]]]:
        """Yield every canonical row of the folder's exports, its cells still as text."""
        for file in self.spec["files"]:
            for path in sorted(folder.iterdir()):
                if not fnmatch(path.name, file["pattern"]):
                    continue
                for line, local in self._lines(path, file):
                    for place, take in enumerate(file["takes"], start=1):
                        texts = self._take_row(take, local)
                        if texts is not None:
                            record_id = texts.get("record_id", ("", None))[0]
                            unit = self.spec["id"]
                            name = path.name
                            yield Row(take["table"], unit, record_id, name, line, place), texts

    # --- from text to values ---------------------------------------------------------------

    def _minutes(self, text: str, spec: Any, record_id: str) -> Fraction:
        if self.time["form"] == "minutes":
            unit = spec.get("unit") if isinstance(spec, dict) else None
            return to_canonical(number(text), "min", unit)
        birth = self.births.get(record_id)
        if birth is None:
            raise Unreadable(text)
        elapsed = instant(text, self.formats, self.time["zone"]) - birth
        return minutes_of(elapsed // dt.timedelta(seconds=1))

    def _decimal(self, table: str, column: str, text: str, spec: Any, kind: Any) -> Fraction:
        about = self.contract[table]["columns"][column]
        canonical = about.get("unit")
        recorded = spec.get("unit") if isinstance(spec, dict) else None
        if column == "value":
            canonical = self.contract[table]["kinds"].get(kind, {}).get("unit")
        if isinstance(recorded, dict):
            recorded = recorded.get(kind)
        return round_half_up(to_canonical(number(text), canonical, recorded), about["decimals"])

    def _value(self, row: Row, column: str, text: str, spec: Any) -> Any:
        """Turn one cell's text into its value; raises Unreadable."""
        about = self.contract[row.table]["columns"][column]
        form = spec.get("form") if isinstance(spec, dict) else None
        if column == "gestational_age_days":
            value: Any = gestation_days(text, form)
        elif about["type"] == "minutes":
            value = self._minutes(text, spec, row.record_id)
        elif about["type"] == "decimal":
            value = self._decimal(row.table, column, text, spec, row.get("kind"))
        elif about["type"] == "integer":
            value = number(text)
        elif about["type"] == "boolean":
            value = {"true": True, "false": False}.get(text.casefold())
        elif about["type"] == "month":
            value = text if MONTH.fullmatch(text) else None
        elif about["type"] == "code":
            value = next((code for code in about["allowed"] if code == text.casefold()), None)
            value = text if text in about["allowed"] else value
        else:
            value = text
        if value is None or (about["type"] == "integer" and value.denominator != 1):
            raise Unreadable(text)
        return value

    def _is_believable(self, row: Row, column: str, value: Any) -> bool:
        """Hold a value against the contract's error limits; no time may be before birth."""
        about = self.contract[row.table]["columns"][column]
        if about["type"] == "minutes":
            is_free = row.get("kind") in about.get("before_birth_kinds", ()) or any(
                row.get(of) == word and value >= -most
                for of, key in (("kind", "within"), ("status", "statuses"))
                for word, most in about.get(f"before_birth_{key}", {}).items()
            )
            return bool(value >= 0 or is_free or about.get("before_birth", False))
        if column == "value":
            about = self.contract[row.table]["kinds"].get(row.get("kind"), {})
        low, high = about.get("error_below"), about.get("error_above")
        too_low = low is not None and value < Fraction(str(low))
        too_high = high is not None and value > Fraction(str(high))
        return not too_low and not too_high

    def _read_cell(self, row: Row, column: str, text: str, spec: Any) -> tuple[Any, bool]:
        """Return the value of one cell, None where there is none, and whether it may be used."""
        try:
            value = self._value(row, column, text, spec)
        except Unreadable:
            return None, False
        return value, self._is_believable(row, column, value)

    def _fill(self, row: Row, texts: Mapping[str, tuple[str, Any]]) -> None:
        """Type the cells of one row, first those on which a unit or what can be true hangs."""
        is_clock = self.time["form"] == "clock"
        for column in sorted(texts, key=lambda name: (name != "kind", name != "status")):
            if column == "birth_time":
                continue
            text, spec = texts[column]
            of = (row.cells.get("kind"), row.cells.get("status"))
            key = (row.table, column, *of, text, id(spec))
            # A clock time means other minutes for each newborn.
            if is_clock and column.endswith("minutes"):
                value, is_usable = self._read_cell(row, column, text, spec)
            else:
                if key not in self.read_before:
                    self.read_before[key] = self._read_cell(row, column, text, spec)
                value, is_usable = self.read_before[key]
            if is_usable:
                row.cells[column] = value
            else:
                row.mask(column)

    def _birth(self, texts: Mapping[str, tuple[str, Any]]) -> dt.datetime | None:
        text, _ = texts.get("birth_time", ("", None))
        if not text or self.time["form"] != "clock":
            return None
        try:
            return instant(text, self.formats, self.time["zone"])
        except Unreadable:
            return None

    def _policy_date(self, row: Row) -> dt.date | None:
        """The local birth date where the unit keeps it, else the first of the birth month."""
        if self.time["form"] == "clock":
            birth = self.births.get(row.record_id)
            if birth is None:
                return None
            date = birth.astimezone(ZoneInfo(self.time["zone"])).date()
            return date if self.time.get("keep_birth_date") else date.replace(day=1)
        month = row.get("birth_month")
        return dt.datetime.strptime(month, "%Y-%m").date() if month else None

    def _birth_hour(self, row: Row) -> int | None:
        """The local clock hour of birth, from the birth time or as the export gives it."""
        if self.time["form"] == "clock":
            birth = self.births.get(row.record_id)
            return birth.astimezone(ZoneInfo(self.time["zone"])).hour if birth else None
        hour = row.get("birth_hour")
        return None if hour is None else int(hour)

    def read(self, folder: Path, flagged: Iterable[FlaggedCell] = ()) -> UnitExport:
        """Read a folder of exports, masking the flagged cells.

        The first line of a record is kept. Set aside are: a later admission line of the same
        record, with whatever else a wide file has on it; an event that repeats an earlier one
        in every column taken, in any file of its pattern; and an event of no known record.
        """
        newborns: dict[str, Newborn] = {}
        rejected: list[Row] = []
        lines_aside: set[tuple[str, int]] = set()
        waiting = list(self.raw_rows(folder))
        for row, texts in waiting:
            if row.table != "admission":
                continue
            if not row.record_id or row.record_id in newborns:
                rejected.append(row)
                lines_aside.add((row.source_file, row.source_line))
                continue
            self.births[row.record_id] = self._birth(texts)
            self._fill(row, texts)
            newborns[row.record_id] = Newborn(
                row, self._policy_date(row), birth_hour=self._birth_hour(row)
            )
        seen: set[Any] = set()
        for row, texts in waiting:
            if row.table == "admission":
                continue
            words = tuple(sorted((name, text) for name, (text, _) in texts.items()))
            is_repeat = (row.table, row.place, words) in seen
            seen.add((row.table, row.place, words))
            self._fill(row, texts)
            is_aside = is_repeat or (row.source_file, row.source_line) in lines_aside
            if row.record_id in newborns and not is_aside:
                newborns[row.record_id].events.append(row)
            else:
                rejected.append(row)
        tell_what_is_charted(list(newborns.values()))
        export = UnitExport(self.spec["id"], self.spec, list(newborns.values()), rejected)
        count_ages(export.newborns)
        hide(export.rows, self.spec, self.contract)
        mask_flagged(export, flagged)
        return export


def count_ages(newborns: Collection[Newborn]) -> None:
    """How old each is at the least, in minutes: from the end of its month of birth to the first
    day of the last month in which anybody of the export was born.
    """
    months = {id(one): one.policy_date.replace(day=1) for one in newborns if one.policy_date}
    for one in newborns:
        month = months.get(id(one))
        if month is not None:
            end = (month + dt.timedelta(days=32)).replace(day=1)
            one.least_age = Fraction((max(months.values()) - end).days * 1440)


def mask_flagged(export: UnitExport, flagged: Iterable[FlaggedCell]) -> None:
    """Take the flagged cells' values away, in place."""
    cells: dict[tuple[str, str, int], set[tuple[str, int | None]]] = {}
    for cell in flagged:
        spot = (cell.table, cell.source_file, cell.source_line)
        cells.setdefault(spot, set()).add((cell.column, cell.place))
    for row in export.rows:
        for column, place in cells.get((row.table, row.source_file, row.source_line), ()):
            if column in row.cells and place in (None, row.place):
                row.mask(column)
    for newborn in export.newborns:
        newborn.forget_kinds()


def read_export(unit_toml: Path, folder: Path, flagged: Iterable[FlaggedCell] = ()) -> UnitExport:
    """Read one unit's exports with the oracle's own reader."""
    return UnitReader(unit_toml).read(folder, flagged)
