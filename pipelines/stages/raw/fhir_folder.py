"""A folder of HL7 FHIR bulk NDJSON as rows: whose each line is, and which version of it stands.

A newborn's own row is told by many resources, and a version may stand in another file, so all
files of a unit are read together, once. What is held in memory is what the lines say in the
contract's columns, about one kilobyte each.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import ExportError
from pipelines.definitions.fhir_lines import TABLES, Codes, Fhir
from pipelines.definitions.read_units import Unit
from pipelines.stages.raw.fhir_elements import IN_ERROR, Fact, Told
from pipelines.stages.raw.fhir_resources import read_resource
from pipelines.stages.raw.json_lines import json_objects

_YEAR: Final = 365.25 * 86400
_PARENT: Final = 10 * _YEAR  # whoever was born so long before the last birth of a folder is none
# What a mother's record says of a pregnancy: from its begin to two months after birth.
_PREGNANCY: Final = (-300 * 86400, 60 * 86400)
_OLDER: Final = "an older version of another line"
_NO_NEWBORN: Final = "about somebody who is no newborn of the export"
_WEEKS_AND_DAYS: Final = re.compile(r"(\d\d)\+([0-6])")
_PUBLIC_CODE: Final = re.compile(r"[A-Za-z0-9.-]{1,18}")
_OFTEN: Final = 10  # a code on so many lines is no newborn's own; rarer ones are only counted
_LISTED: Final = 8
_NEXT: Final = (
    "FHIR bulk data is read: one resource a line (NDJSON), one type a file. Export with the bulk "
    "operation ($export), or write each resource of the bundle on a line of its own."
)

Row = tuple[int, dict[str, str]]


@dataclass
class Folder:
    """What the files of a folder say, by file: rows, lines set aside with why, and notes."""

    rows: dict[Path, list[Row]] = field(default_factory=dict)
    aside: dict[Path, list[tuple[int, str]]] = field(default_factory=lambda: defaultdict(list))
    notes: dict[Path, list[str]] = field(default_factory=lambda: defaultdict(list))


@dataclass
class _Read:
    """The lines of all files by type, in the order of the files."""

    told: dict[str, list[tuple[Path, Told]]] = field(default_factory=lambda: defaultdict(list))
    broken: list[tuple[Path, int, str]] = field(default_factory=list)

    def standing(self, kind: str) -> Iterator[Told]:
        return (told for _, told in self.told[kind] if not told.aside)


def read_folder(unit: Unit, folder: Path) -> Folder:
    """Read every FHIR file of a unit. Raises ExportError naming file and line, never a value."""
    fhir = unit.fhir
    if fhir is None:
        raise ExportError(
            f'{unit.file_name}: files of format "fhir" are named under [fhir], not under [[files]].'
        )
    read = _Read()
    for kind, pattern in fhir.resources.items():
        for path in sorted(folder.glob(pattern)):
            if path.is_file() and not path.name.startswith("."):
                _read_file(read, kind, path, fhir)
    for kind in read.told:
        _set_older_aside([told for _, told in read.told[kind]])
    whose = _Whose(read, fhir)
    _join_communications(read)
    _keep_first_stay(read)
    return _as_rows(read, whose, unit, fhir)


def _read_file(read: _Read, kind: str, path: Path, fhir: Fhir) -> None:
    if path.stat().st_size == 0:
        raise ExportError(f"{path.name}: the file is empty (0 bytes); export it again.")
    found = 0
    for line, resource in json_objects(path):
        if not isinstance(resource, dict):
            if line == 1:
                _refuse_other_json(path, resource)
            read.broken.append((path, line, "no JSON object"))
            continue
        other = resource.get("resourceType")
        if other == "Bundle":
            raise ExportError(f"{path.name} line {line}: this is a Bundle. {_NEXT}")
        if other != kind:
            named = f"a {other}" if other in TABLES else "another resource, or none"
            read.broken.append((path, line, f"is {named}, and {kind} is read here"))
            continue
        found += 1
        read.told[kind].append((path, read_resource(resource, line, fhir)))
    if not found:
        raise ExportError(
            f"{path.name}: no line is of type {kind}. Name the files of each type under "
            f"[fhir.patterns], or take {kind} out of resources."
        )


def _refuse_other_json(path: Path, found: Any) -> None:
    if isinstance(found, list):
        raise ExportError(f"{path.name}: the file is one JSON list. {_NEXT}")
    with path.open("rb") as stream:
        first = stream.readline().strip()
    if first in {b"{", b"["}:
        raise ExportError(f"{path.name}: one resource stands on many lines. {_NEXT}")


def _set_older_aside(every: list[Told]) -> None:
    """Keep of each id the newest version; of two that are equally new the first."""
    newest: dict[str, Told] = {}
    for told in every:
        other = newest.get(told.id)
        if not told.id or other is None:
            newest[told.id] = told
        elif told.version > other.version:
            other.aside, newest[told.id] = _OLDER, told
        else:
            same = told.version == other.version
            told.aside = "the same id and version as an earlier line" if same else _OLDER


class _Whose:
    """Which newborn each line belongs to."""

    def __init__(self, read: _Read, fhir: Fhir):
        patients = list(read.standing("Patient"))
        self.moved = {
            told.id: told.cells["replaced by"]
            for _, told in read.told["Patient"]
            if "replaced by" in told.cells
        }
        mother_of = _mothers(read, patients, fhir)
        last = max((told.begun for told in patients if told.begun is not None), default=0.0)
        parents = set(mother_of.values())
        self.records: dict[str, str] = {}
        self.children: dict[str, list[str]] = defaultdict(list)
        self.births: dict[str, float | None] = {}
        for told in patients:
            if told.id in parents or (told.begun is not None and last - told.begun >= _PARENT):
                told.aside = "no newborn: a mother, or born ten years before the others"
                continue
            self.records[told.id] = told.cells.get("record", "")
            self.births[told.id] = told.begun
            if told.id in mother_of:
                self.children[mother_of[told.id]].append(told.id)
        self.parents = parents | {told.id for told in patients} - set(self.records)

    def patient(self, told: Told) -> str:
        return self.moved.get(told.subject, told.subject)


def _mothers(read: _Read, patients: list[Told], fhir: Fhir) -> dict[str, str]:
    """Return newborn -> mother, by the link that the unit's file names."""
    if fhir.mother != "encounter":
        return {told.id: told.about for told in patients if told.about}
    subject = {told.id: told.subject for told in read.standing("Encounter")}
    found = {
        told.subject: subject[told.about]
        for told in read.standing("Encounter")
        if told.about in subject
    }
    return {child: mother for child, mother in found.items() if child != mother}


def _join_communications(read: _Read) -> None:
    """Add to each finding who was told and when; the line of the Communication says no more."""
    findings = {
        told.id: told
        for kind in ("Observation", "Procedure", "Condition")
        for told in read.standing(kind)
        if "finding.kind" in told.cells
    }
    for told in read.standing("Communication"):
        if not told.about:
            continue
        finding = findings.get(told.about)
        if finding is None:
            told.aside = "about something that is no finding of the export"
            continue
        told.subject = finding.subject
        finding.cells = {**told.cells, **finding.cells}
        told.cells = {}


def _keep_first_stay(read: _Read) -> None:
    """Of several stays of one newborn the first tells the row; later ones are set aside."""
    first: dict[str, Told] = {}
    for told in sorted(read.standing("Encounter"), key=lambda one: one.begun or float("inf")):
        if "care.kind" in told.cells:
            continue
        if first.setdefault(told.subject, told) is not told:
            told.aside = "a later stay; the first is read"


def _as_rows(read: _Read, whose: _Whose, unit: Unit, fhir: Fhir) -> Folder:
    folder = Folder()
    of_newborn = _facts_by_newborn(read, whose)
    unknown: dict[Path, Counter[tuple[str, str]]] = defaultdict(Counter)
    for path, line, reason in read.broken:
        folder.aside[path].append((line, reason))
    for kind, lines in read.told.items():
        for path, told in lines:
            rows = folder.rows.setdefault(path, [])
            if not told.aside:
                _place(kind, told, whose)
            if told.aside:
                folder.aside[path].append((told.line, told.aside))
                if told.unknown:
                    unknown[path][told.unknown] += 1
                continue
            cells = dict(told.cells)
            if kind == "Patient":
                cells |= _own_row(of_newborn[told.id], unit, fhir)
            rows.append((told.line, cells))
    _refuse_untimed(folder, read, whose)
    for path in folder.rows:
        folder.notes[path] = _notes(folder.aside[path], unknown[path], fhir.codes)
    return folder


def _refuse_untimed(folder: Folder, read: _Read, whose: _Whose) -> None:
    """Without a single time of birth nothing can be said in minutes after it."""
    paths = list(dict.fromkeys(path for path, _ in read.told["Patient"]))
    timed = any("admission.birth_time" in cells for path in paths for _, cells in folder.rows[path])
    if whose.records and not timed:
        raise ExportError(
            f"{paths[0].name}: no Patient has a time of birth. It stands in the extension "
            "patient-birthTime of birthDate; have it exported, for birthDate has no clock."
        )


def _place(kind: str, told: Told, whose: _Whose) -> None:
    """Write the record key into the line, or say why it is nobody's.

    A line of a mother's that says something of her newborn stands with it, and says no more.
    """
    patient = whose.patient(told)
    if patient in whose.records:
        told.cells["record"] = whose.records[patient]
    elif patient in whose.children and (told.mothers or kind == "Encounter"):
        told.cells = {"record": whose.records[whose.children[patient][0]]}
    elif patient in whose.parents:
        told.aside = _NO_NEWBORN
    elif patient:
        told.cells["record"] = patient  # leads nowhere: rejected as of no newborn


def _facts_by_newborn(read: _Read, whose: _Whose) -> dict[str, list[Fact]]:
    found: dict[str, list[Fact]] = defaultdict(list)
    for kind in read.told:
        for told in read.standing(kind):
            patient = whose.patient(told)
            if patient in whose.records:
                found[patient] += told.facts
            for child in whose.children.get(patient, ()):
                found[child] += [one for one in told.mothers if _is_of(one, whose.births[child])]
    return found


def _is_of(fact: Fact, birth: float | None) -> bool:
    """Whether an entry of a mother's record is of this pregnancy; one without a time may be."""
    if fact.when is None or birth is None:
        return True
    return _PREGNANCY[0] <= fact.when - birth <= _PREGNANCY[1]


def _own_row(facts: list[Fact], unit: Unit, fhir: Fhir) -> dict[str, str]:
    """Return a newborn's own row: of each column the first entry, or the last, as the code says."""
    chosen: dict[str, Fact] = {}
    for fact in facts:
        other = chosen.get(fact.column)
        if other is None or _goes_before(fact, other):
            chosen[fact.column] = fact
    row = {}
    for column, fact in chosen.items():
        text, of_measure = _in_days(fact, unit, fhir)
        row[column] = text
        if of_measure:
            row[f"{column}.unit"] = of_measure
    return row


def _goes_before(fact: Fact, other: Fact) -> bool:
    if fact.when is None or other.when is None:
        return other.when is None and fact.when is not None
    return fact.when > other.when if fact.keep == "last" else fact.when < other.when


def _in_days(fact: Fact, unit: Unit, fhir: Fhir) -> tuple[str, str | None]:
    """Return text and unit; weeks of gestation as days, as the unit's file says they are meant."""
    if fact.column != "admission.gestational_age_days":
        return fact.text, fact.unit
    if fact.unit is None and (both := _WEEKS_AND_DAYS.fullmatch(fact.text)):
        return str(int(both[1]) * 7 + int(both[2])), "d"
    if fact.unit != "wk":
        return fact.text, fact.unit
    if not fhir.weeks:
        raise ExportError(
            f"{unit.file_name} [fhir]: gestation is given in weeks, and 39 may be 39+0 or some day "
            'of week 39. Write weeks = "exact" or weeks = "completed" (read as the middle day).'
        )
    try:
        weeks = float(fact.text)
    except ValueError:
        return fact.text, "d"
    days = int(weeks) * 7 + 3 if fhir.weeks == "completed" else round(weeks * 7)
    return str(days), "d"


def _notes(
    aside: list[tuple[int, str]], unknown: Mapping[tuple[str, str], int], codes: Codes
) -> list[str]:
    """Say what was dropped, and which code systems have codes that are on no value set."""
    notes = []
    reasons = Counter(reason for _, reason in aside)
    told = [(IN_ERROR, "entered in error"), (_OLDER, "older versions")]
    said = [f"{reasons[reason]:,} {words}" for reason, words in told if reasons[reason]]
    if said:
        notes.append(f"lines dropped: {', '.join(said)}")
    by_system: dict[str, Counter[str]] = defaultdict(Counter)
    for (system, code), lines in unknown.items():
        by_system[system][code] += lines
    parts = [
        _unknown_words(codes.systems.get(system), counted) for system, counted in by_system.items()
    ]
    if parts:
        notes.append(f"codes on no value set: {'; '.join(sorted(parts))}")
    return notes


def _unknown_words(system: str | None, counted: Counter[str]) -> str:
    """Say a system and how many of its codes are unknown; those that stand often by themselves."""
    lines, kinds = sum(counted.values()), len(counted)
    often = [
        f"{code} ({n:,})"
        for code, n in counted.most_common(_LISTED)
        if system and n >= _OFTEN and _PUBLIC_CODE.fullmatch(code)
    ]
    listed = f": {', '.join(often)}" if often else ""
    return f"{system or 'a system without a name'} {lines:,} lines, {kinds:,} codes{listed}"
