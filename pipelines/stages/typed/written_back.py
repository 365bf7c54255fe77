"""The round trip: what was read, written back in the declared form, must be the export's text.

A second way round the same declarations, in Python and from the stored values, so that a form
that reads every cell and means another thing shows. A sample of each file is written back;
differences are counted by column, and no value is named.
"""

import datetime as dt
import re
import zoneinfo
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, Final

import duckdb

from pipelines.base.measuring_units import conversion
from pipelines.definitions.read_contract import Column, Kind, Table
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_readings import (
    GESTATION_FORMS,
    PART_FORMS,
    Marks,
    parts_ratio,
    units_of,
)
from pipelines.definitions.unit_takes import Source, Take
from pipelines.definitions.unit_times import COUNTED, has_offset
from pipelines.stages.raw.export_text import said
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.typed.tables import row_id_of

SAMPLE: Final = 200  # rows of each take: enough to see a form that is wrong for one in fifty
_WRITTEN_TYPES: Final = {"integer", "decimal", "minutes", "instant", "month"}
_DAY_ZERO: Final = {"excel": dt.datetime(1899, 12, 30), "excel_1904": dt.datetime(1904, 1, 1)}
_OFFSET: Final = re.compile(r"(?:[zZ]|([+-])(\d\d):?(\d\d)?)$")
_LEADING_NOUGHT: Final = re.compile(r"(?<!\d)0+(?=\d)")


@dataclass
class WrittenBack:
    """How many sampled cells of one column were compared, and how many differ."""

    unit: str
    source_file: str
    column: str
    local: str
    compared: int = 0
    different: int = 0


def write_back(
    connection: duckdb.DuckDBPyConnection, raws: Sequence[RawFile], sample: int = SAMPLE
) -> list[WrittenBack]:
    """Write back a sample of every column of numbers and times, file by file.

    Reads the stages raw and typed while the raw files are attached.
    """
    return [
        found
        for raw in raws
        for place, take in enumerate(raw.spec.takes)
        for found in _of_take(connection, raw, place, take, sample)
    ]


def _of_take(
    connection: duckdb.DuckDBPyConnection, raw: RawFile, place: int, take: Take, sample: int
) -> Iterator[WrittenBack]:
    table = raw.unit.contract[take.table]
    sources = {
        name: source
        for name, source in take.sources.items()
        if table.columns[name].type in _WRITTEN_TYPES
        and name != "birth_order"  # numbered anew once all files are read
        and not source.recode
        and all(raw.column(local) for local in source.columns)
        and source.columns
    }
    if not sources:
        return
    rows = _rows(connection, raw, place, sources, sample)
    for name, source in sources.items():
        column = table.columns[name]
        found = WrittenBack(
            raw.unit.id, raw.name, f"{take.table}.{name}", " + ".join(source.columns)
        )
        for row in rows:
            texts, value = row[f"text {name}"], row[name]
            if value is None or None in texts:
                continue
            found.compared += 1
            forms = (*source.formats, *raw.own_forms)
            cell = Cell(raw.unit, table, column, source, texts, row, forms)
            found.different += not cell.is_same(value)
        yield found


def _rows(
    connection: duckdb.DuckDBPyConnection,
    raw: RawFile,
    place: int,
    sources: dict[str, Source],
    sample: int,
) -> list[dict[str, Any]]:
    """Return sampled rows: stored values by name, export texts under "text NAME"."""
    take = raw.spec.takes[place]
    asked = ["epoch(birth.born_at) as born"]
    if "kind" in raw.unit.contract[take.table].columns:
        asked.append("typed.kind as kind")
    for name, source in sources.items():
        texts = [said(f"file.{raw.column(local)}", source.codes) for local in source.columns]
        asked.append(f'[{", ".join(texts)}] as "text {name}"')
        stored = "epoch(birth.born_at)" if name == "birth_time" else f"typed.{name}"
        if raw.unit.contract[take.table].columns[name].type == "month":
            stored = f"strftime({stored}, '%Y-%m')"
        asked.append(f"{stored} as {name}")
        if source.unit_from and raw.column(source.unit_from):
            asked.append(f'trim(file.{raw.column(source.unit_from)}) as "unit {name}"')
    found = connection.execute(
        f"""
        select {", ".join(asked)}
        from typed.{take.table} as typed
        inner join {raw.table} as file on {row_id_of(raw, place, "file.source_line")} = typed.row_id
        left join raw.birth as birth on birth.newborn_id = typed.newborn_id
        order by hash(typed.row_id) limit {sample}
        """
    )
    names = [one[0] for one in found.description or ()]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


@dataclass(frozen=True)
class Cell:
    """One cell of an export: how it is declared and what it says."""

    unit: Unit
    table: Table
    column: Column
    source: Source
    texts: Sequence[str]
    row: dict[str, Any]
    forms: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        return " ".join(self.texts)

    def is_same(self, value: Any) -> bool:
        """Whether the stored value, written in the declared form, is the cell's text."""
        if self.column.type == "month":
            return bool(value == self.text)
        if self.source.form in GESTATION_FORMS:
            return _same_gestation(int(value), self.texts, str(self.source.form))
        if self.source.formats:
            minutes = 0.0 if self.column.type == "instant" else float(value)
            return self._same_time(minutes)
        if self.source.units:
            return self._same_parts(float(value))
        return any(self._same_number(float(value), unit) for unit in self._units())

    def _kind(self) -> Kind | None:
        kinds = units_of(self.table, self.column)
        return kinds.get(self.row.get("kind") or "") or kinds.get("")

    def _units(self) -> tuple[str | None, ...]:
        """Return the units in which the cell may be written; one, unless it holds either."""
        source, kind = self.source, self._kind()
        known_units = kind.conversions if kind else {}
        if source.either:
            return source.either
        if source.unit_from:
            word = str(self.row.get(f"unit {self.column.name}") or "").casefold()
            spelling = self.unit.recodes.get("units", {})
            known = {local.casefold(): row[""] for local, row in spelling.items()}
            named = {unit.casefold(): unit for unit in known_units}
            return (known.get(word) or named.get(word),)
        if isinstance(source.unit, str):
            return (source.unit if source.unit in known_units else None,)
        return ((source.unit or {}).get(self.row.get("kind") or ""),)

    def _same_number(self, value: float, unit: str | None) -> bool:
        kind, step = self._kind(), 10.0 ** -(self.column.decimals or 0)
        if self.column.type == "minutes":
            step = 0.001
        if unit is not None and kind is not None:
            rule = kind.conversion("", unit)
            step = abs(rule.from_canonical(step) - rule.from_canonical(0.0))
            value = rule.from_canonical(value)
        return _same_text(value, self.text, self.source.marks, step)

    def _same_parts(self, value: float) -> bool:
        kind = self._kind()
        canonical = kind.unit if kind else ""
        ratio = parts_ratio(canonical, self.source.units)
        rules = [conversion("", canonical, unit) for unit in self.source.units]
        texts = list(self.texts)
        if self.source.form in PART_FORMS:
            texts = re.findall(r"\d+(?:[.,]\d+)?", self.text)
        if len(texts) != 2:
            return False
        decimals = len(texts[1].partition(self.source.marks.decimal)[2])
        small = round(rules[1].from_canonical(value), decimals)
        first, second = divmod(small, ratio)
        return f"{first:.0f}" == texts[0] and _same_text(
            round(second, decimals), texts[1], self.source.marks, 0.0
        )

    def _same_time(self, minutes: float) -> bool:
        moment = dt.datetime.fromtimestamp(self.row["born"] + minutes * 60, dt.UTC)
        text = _plain(self.text)
        return any(self._in_form(moment, form, text) for form in self.forms)

    def _in_form(self, moment: dt.datetime, form: str, text: str) -> bool:
        clock = zoneinfo.ZoneInfo(self.unit.zone or "UTC")
        if form in COUNTED:
            return _same_count(moment, clock, form, self.text, self.source.marks)
        if has_offset(form):
            offset = _OFFSET.search(self.text)
            if offset is None:
                return False
            clock = _zone_of(offset)  # type: ignore[assignment]
            text = _plain(self.text[: offset.start()].rstrip())
            form = form.replace("%z", "").rstrip()
        if "%f" in form:  # minutes are kept to 0.001, so a fraction of a second is not
            text, form = re.sub(r"\.\d+", "", text), form.replace(".%f", "")
            moment = moment + dt.timedelta(milliseconds=50)
        else:
            moment = moment + dt.timedelta(milliseconds=500)
        return _plain(moment.astimezone(clock).strftime(form)) == text


def _zone_of(offset: re.Match[str]) -> dt.timezone:
    if offset[1] is None:
        return dt.UTC
    minutes = int(offset[2]) * 60 + int(offset[3] or 0)
    return dt.timezone(dt.timedelta(minutes=-minutes if offset[1] == "-" else minutes))


def _plain(text: str) -> str:
    """Return a time without leading noughts, stray blanks and capitals: 07:05 is 7:05."""
    return _LEADING_NOUGHT.sub("", " ".join(text.casefold().split()))


def _same_count(moment: dt.datetime, clock: dt.tzinfo, form: str, text: str, marks: Marks) -> bool:
    given = _decimal(text, marks)
    if given is None:
        return False
    if form in _DAY_ZERO:
        gone = moment.astimezone(clock).replace(tzinfo=None) - _DAY_ZERO[form]
        counted, second = gone.total_seconds() / 86400, 1 / 86400
    else:
        scale = 1000 if form == "unix_milliseconds" else 1
        counted, second = moment.timestamp() * scale, 1.0 * scale
    digits = len(text.partition(marks.decimal)[2])
    return bool(abs(float(given) - counted) <= second + 10.0**-digits)


def _decimal(text: str, marks: Marks) -> Decimal | None:
    plain = text
    if marks.thousands == " ":
        plain = re.sub(r"\s", "", plain)
    elif marks.thousands:
        plain = re.sub(f"[{re.escape(marks.thousands)}'\u2019]", "", plain)
    try:
        return Decimal(plain.replace(marks.decimal, "."))
    except InvalidOperation:
        return None


def _same_text(value: float, text: str, marks: Marks, step: float) -> bool:
    """Whether a number with the decimals of a text is that text, to the step that is stored."""
    number, _, fraction = text.lstrip("+").partition(marks.decimal)
    if "e" in text.casefold():  # written with an exponent: compare what it says
        given = _decimal(text, marks)
        return given is not None and bool(abs(float(given) - value) <= max(step, 1e-9))
    written = f"{value:,.{len(fraction)}f}"
    is_grouped = bool(re.search(r"\D", number.lstrip("-")))
    mark = "".join(re.findall(r"\D", number.lstrip("-"))[:1]) if is_grouped else ""
    whole, _, rest = written.partition(".")
    written = whole.replace(",", mark) + (marks.decimal + rest if fraction else "")
    if _LEADING_NOUGHT.sub("", written) == _LEADING_NOUGHT.sub("", text.strip("+").rstrip(".")):
        return True
    # More decimals than are stored: equal as far as they are.
    given = _decimal(text, marks)
    return (
        given is not None
        and 10.0 ** -len(fraction) < step
        and bool(abs(float(given) - value) <= step / 2 + 1e-9)
    )


def _same_gestation(days: int, texts: Sequence[str], form: str) -> bool:
    said_here = [int(one) for one in re.findall(r"\d+", " ".join(texts))]
    weeks, rest = divmod(days, 7)
    if form == "completed_weeks" or (form == "weeks_with_or_without_days" and len(said_here) == 1):
        return said_here[:1] == [weeks] and rest == 3
    return said_here in ([weeks, rest], [weeks, rest, 7])


def write_back_words(found: Sequence[WrittenBack], files: dict[str, str]) -> list[str]:
    """Return sentences for the dry run: how many cells came back equal, and which columns not."""
    compared = sum(one.compared for one in found)
    different = [one for one in found if one.different]
    if not compared:
        return []
    told = [
        f"{files[one.unit]}: column '{one.local}' of {one.source_file} ({one.column}): "
        f"{one.different:,} of {one.compared:,} sampled entries are not the export's text when "
        "they are written back as declared. Look at its form, unit and marks in the unit file."
        for one in different
    ]
    same = compared - sum(one.different for one in different)
    return [
        f"Written back as declared: {same:,} of {compared:,} sampled numbers and times are the "
        "export's own text.",
        *told,
    ]
