"""Eight invented newborns as plain facts, and how a case writes them: nothing here reads.

Births lie around changes of the clock, at midnight, and on days before and after the twelfth,
so that a misread offset, order of day and month or 12-hour clock shows. Times are UTC instants;
zones and offsets come from Python's zoneinfo, not from the program.
"""

import datetime as dt
import zoneinfo
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

UTC = dt.UTC
BERLIN = zoneinfo.ZoneInfo("Europe/Berlin")


@dataclass(frozen=True)
class Newborn:
    key: str
    born: dt.datetime  # UTC
    weight_g: float
    length_cm: float
    gestation_days: int
    apgar: int
    temperature_c: float
    taken_after: int  # minutes after birth

    @property
    def taken(self) -> dt.datetime:
        return self.born + dt.timedelta(minutes=self.taken_after)


def _utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=UTC)  # type: ignore[misc,arg-type]


NEWBORNS = (
    Newborn(
        "B1", _utc(2026, 3, 29, 0, 30), 3020, 50.5, 278, 9, 36.7, 45
    ),  # before the clocks change
    Newborn("B2", _utc(2026, 3, 29, 1, 30), 3480, 51.0, 287, 8, 36.4, 60),  # just after
    Newborn("B3", _utc(2026, 4, 3, 5, 5), 2950, 49.0, 265, 9, 37.1, 30),
    Newborn("B4", _utc(2026, 5, 4, 22, 10), 4105, 53.5, 290, 10, 36.9, 125),
    Newborn("B5", _utc(2026, 6, 15, 10, 45), 1985, 44.0, 236, 7, 36.2, 15),
    Newborn("B6", _utc(2026, 7, 31, 22, 0), 3333, 50.0, 280, 9, 36.5, 90),  # midnight in Berlin
    Newborn("B7", _utc(2026, 9, 8, 11, 20), 2760, 47.5, 259, 8, 37.4, 20),
    Newborn("B8", _utc(2026, 12, 24, 16, 59), 3590, 52.0, 273, 9, 36.6, 70),
)


def local(moment: dt.datetime) -> dt.datetime:
    return moment.astimezone(BERLIN)


def stamp(form: str) -> Callable[[dt.datetime], str]:
    """Write an instant as a Berlin clock shows it."""
    return lambda moment: local(moment).strftime(form)


def weeks_days(days: int) -> str:
    return f"{days // 7}+{days % 7}"


Row = dict[str, str]


def rows(**changed: Callable[[Newborn], str | Mapping[str, str]]) -> list[Row]:
    """One row per newborn; ``changed``: column -> how it is written, a mapping replaces it.

    Columns: key, born, weight, length, gestation, apgar, temp, taken.
    """
    plain: dict[str, Callable[[Newborn], str | Mapping[str, str]]] = {
        "key": lambda one: one.key,
        "born": lambda one: local(one.born).strftime("%Y-%m-%d %H:%M"),
        "weight": lambda one: f"{one.weight_g:g}",
        "length": lambda one: f"{one.length_cm:.1f}",
        "gestation": lambda one: weeks_days(one.gestation_days),
        "apgar": lambda one: str(one.apgar),
        "temp": lambda one: f"{one.temperature_c:.1f}",
        "taken": lambda one: local(one.taken).strftime("%Y-%m-%d %H:%M"),
    }
    written = []
    for newborn in NEWBORNS:
        row: Row = {}
        for name, write in (plain | changed).items():
            cell = write(newborn)
            row.update({name: cell} if isinstance(cell, str) else cell)
        written.append(row)
    return written


def text(table: list[Row], delimiter: str = ",", end: str = "\n", names: bool = True) -> str:
    """Write rows as text; a cell with the delimiter, a quote or a line break is quoted."""

    def cell(one: str) -> str:
        return (
            f'"{one.replace(chr(34), chr(34) * 2)}"' if set(one) & {delimiter, '"', "\n"} else one
        )

    lines = [list(table[0])] if names else []
    lines += [list(row.values()) for row in table]
    return "".join(delimiter.join(map(cell, line)) + end for line in lines)


SOURCES = {
    "record_id": '"key"',
    "birth_time": '"born"',
    "weight_g": '{ from = "weight", unit = "g" }',
    "length_cm": '{ from = "length", unit = "cm" }',
    "gestational_age_days": '{ from = "gestation", form = "weeks_and_days" }',
    "apgar_5": '"apgar"',
    "value": '{ from = "temp", unit = "Cel" }',
    "minutes": '"taken"',
}


def unit(
    *,
    time: str = 'formats = ["%Y-%m-%d %H:%M"]',
    file: str = 'pattern = "babies*.csv"',
    zone: str = "Europe/Berlin",
    more: str = "",
    **sources: str,
) -> str:
    """Return the text of a unit's file; ``sources`` replace those of ``SOURCES``."""
    used = SOURCES | sources
    admission = "\n".join(
        f"{name} = {source}"
        for name, source in used.items()
        if name not in {"value", "minutes"} and source
    )
    return f"""
id = "awkward"
title = "Awkward"
{more if more.startswith("[locale]") else ""}
[time]
form = "clock"
zone = "{zone}"
keep_birth_date = true
{time}
[[files]]
{file}
[[files.takes]]
table = "admission"
[files.takes.columns]
{admission}
[[files.takes]]
table = "observation"
[files.takes.columns]
record_id = {used["record_id"]}
kind = {{ value = "temperature" }}
site = {{ value = "axillary" }}
value = {used["value"]}
minutes = {used["minutes"]}
{"" if more.startswith("[locale]") else more}
"""


@dataclass(frozen=True)
class Case:
    """A unit's file, the exports beside it, and what must become of them.

    ``refused``: part of the message, where it cannot be read rightly. Otherwise it loads, and
    every stored value is the truth; ``unread`` are (column, key) cells that are listed instead,
    ``absent`` those that are blank by a declared code. ``within``: column -> how coarsely the
    case itself writes it.
    """

    name: str
    unit: str
    files: Mapping[str, bytes]
    refused: str = ""
    unread: frozenset[tuple[str, str]] = frozenset()
    absent: frozenset[tuple[str, str]] = frozenset()
    rejected: int = 0
    within: Mapping[str, float] = field(default_factory=dict)


def csv_case(name: str, unit_text: str, table: list[Row], **more: object) -> Case:
    return Case(name, unit_text, {"babies.csv": text(table).encode()}, **more)  # type: ignore[arg-type]
