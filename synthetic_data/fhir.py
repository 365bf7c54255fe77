"""A unit's synthetic exports once more, as HL7 FHIR R4 bulk NDJSON.

Codes come from the shipped value sets read backwards; what no standard system has a code for has
one of our own. What FHIR cannot hold as it stands in a chart (a time that is none, a number with a
word) is written as FHIR writes it: a string, or a data-absent-reason.
"""

import json
import re
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from pipelines.definitions.fhir_lines import (
    ABSENT,
    BIRTH_TIME,
    OWN,
    PLACE,
    QUANTITY,
    SHIPPED,
    TABLES,
    is_measured,
    read_codes,
)
from pipelines.definitions.read_units import Unit
from synthetic_data.fhir_rows import Cell, Row, instant, read_rows

Json = dict[str, Any]
_NUMBER: Final = re.compile(r"-?\d+(\.\d+)?")
_UCUM: Final = "http://unitsofmeasure.org"
_INTERPRETATION: Final = "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation"
_AS_EXPECTED: Final = {"true": "N", "false": "A"}
_VACCINES: Final = ("hepatitis_b_vaccine", "hepatitis_b_immune_globulin", "rsv_antibody")
_CONDITIONS: Final = ("fall", "collapse")
# Facts of a newborn's row that stand in its mother's record.
_OF_A_MOTHER: Final = (
    "mode_of_birth", "anaesthesia", "plurality", "maternal_temperature_c", "maternal_diabetes",
    "maternal_hepatitis_b", "race_ethnicity", "language", "payer",
)  # fmt: skip
_ELSEWHERE: Final = {
    "birth_time", "sex", "birth_place", "leave_birth_room_minutes", "arrival_minutes",
    "discharge_minutes", "disposition", "size_minutes", "maternal_hepatitis_b_minutes",
}  # fmt: skip
_SIZES: Final = ("weight_g", "length_cm", "head_circumference_cm")
_MEASURED_AT: Final = {
    **dict.fromkeys(_SIZES, "size_minutes"),
    "maternal_hepatitis_b": "maternal_hepatitis_b_minutes",
}
_STAYS: Final = {
    "home": ("http://terminology.hl7.org/CodeSystem/discharge-disposition", "home"),
    "transfer": ("http://terminology.hl7.org/CodeSystem/discharge-disposition", "other-hcf"),
    "died": ("http://terminology.hl7.org/CodeSystem/discharge-disposition", "exp"),
}


def _concept(*codings: tuple[str, str]) -> Json:
    return {"coding": [{"system": system, "code": code} for system, code in codings]}


def _absent(reason: str) -> Json:
    return {"extension": [{"url": ABSENT, "valueCode": reason}]}


class FhirWriter:
    """The resources of one unit, by type, in the order in which they are told."""

    def __init__(self, unit: Unit):
        self.unit = unit
        self.codes = read_codes([SHIPPED], unit.contract)
        self.local = f"urn:lanugo:{unit.id}"
        self.lines: dict[str, list[Json]] = defaultdict(list)
        self._by_says = {
            tuple(sorted(one.says.items())): pair
            for pair, one in reversed(list(self.codes.meanings.items()))
            if one.says and not one.value
        }
        self._by_value = {
            one.value: pair for pair, one in reversed(list(self.codes.meanings.items()))
        }
        self._seen: set[str] = set()

    # Codes, read backwards -------------------------------------------------------------------

    def code(self, **says: str) -> list[tuple[str, str]]:
        """Return the code that says just this (``observation__kind="temperature"``), or ours."""
        wanted = {name.replace("__", "."): word for name, word in says.items() if word}
        found = self._by_says.get(tuple(sorted(wanted.items())))
        if found:
            return [found]
        return [(OWN, f"{column}.{word}") for column, word in wanted.items()]

    def word(self, column: str, cell: Cell | None) -> Json | None:
        """Return the concept of a coded cell; a word that no list knows is a code of the unit's."""
        if cell is None:
            return None
        if cell.is_unknown:
            return _concept((self.local, cell.text))
        return _concept(*self.code(**{column.replace(".", "__"): cell.text}))

    # Elements --------------------------------------------------------------------------------

    def time(self, name: str, row: Row, column: str) -> Json:
        """Return an element of a time, or why it is not there, as FHIR writes both."""
        return self._time(name, row.text(column))

    def _time(self, name: str, text: str) -> Json:
        if not text:
            return {}
        read = instant(self.unit, text)
        return {name: read} if read else {f"_{name}": _absent("error")}

    def during(self, name: str, row: Row) -> Json:
        if not row.text("end_minutes"):
            return self.time(f"{name}DateTime", row, "minutes")
        period = {**self.time("start", row, "minutes"), **self.time("end", row, "end_minutes")}
        return {f"{name}Period": period}

    def add(self, kind: str, name: str, subject: str | None, /, **elements: Any) -> None:
        """Add a resource; one that was told before comes again as an older version of itself."""
        is_again = f"{kind}/{name}" in self._seen
        self._seen.add(f"{kind}/{name}")
        filled = {key: value for key, value in elements.items() if value is not None}
        if subject is not None:
            owner = "patient" if kind == "Immunization" else "subject"
            filled[owner] = {"reference": f"Patient/{subject}"}
        version = {"versionId": "1" if is_again else "2"}
        self.lines[kind].append({"resourceType": kind, "id": name, "meta": version, **filled})

    def quantity(self, text: str, unit: str | None) -> Json:
        found: Json = {"value": float(text)} if _NUMBER.fullmatch(text) else {}
        if not found:
            found["_value"] = _absent("error")
        return {**found, **({"unit": unit, "system": _UCUM, "code": unit} if unit else {})}

    def value(self, text: str, unit: str | None) -> Json:
        """Return value[x]: a quantity where the text is a number, else the text as it stands."""
        if not text:
            return {}
        if not _NUMBER.fullmatch(text):
            return {"valueString": text}
        if unit is None:
            return {"valueInteger": int(text)} if text.isdecimal() else {"valueString": text}
        return {"valueQuantity": self.quantity(text, unit)}

    # Rows ------------------------------------------------------------------------------------

    def admission(self, row: Row) -> None:
        """Write a newborn, its mother, their stays, and what is known of the birth."""
        key, mother = row.key, f"{row.key}-mother"
        is_first = f"Patient/{key}" not in self._seen
        born = self._time("valueDateTime", row.text("birth_time"))
        birth = {"_birthDate": {"extension": [{"url": BIRTH_TIME, **born}]}}
        if day := born.get("valueDateTime"):
            birth["birthDate"] = day[:10]
        else:
            birth = {"_birthDate": _absent("error")}
        named = {"family": "Invented", "given": [f"Newborn of {mother}"]}
        self.add("Patient", key, None, name=[named], gender=row.text("sex") or None, **birth)
        if is_first:
            year = int(day[:4]) if day else 2025
            self.add("Patient", mother, None, gender="female", birthDate=f"{year - 30}-01-01")
        self._stay(row, mother)
        for name, cell in row.cells.items():
            if name not in _ELSEWHERE:
                self._fact(row, name, cell, mother if name in _OF_A_MOTHER else key)

        if not any(row.text(name) for name in _SIZES):
            self._only_time(row, "size_minutes", key)

    def _only_time(self, row: Row, name: str, subject: str) -> None:
        """Write when something was done of which nothing else is known."""
        if time := self.time("effectiveDateTime", row, name):
            known, code = (
                f"{row.key}-{name.replace('_', '-')}",
                _concept((OWN, f"admission.{name}")),
            )
            self.add("Observation", known, subject, status="final", code=code, **time)

    def _stay(self, row: Row, mother: str) -> None:
        inpatient = {"system": "http://terminology.hl7.org/CodeSystem/v3-ActCode", "code": "IMP"}
        hers = {"status": "finished", "class": inpatient}
        if f"Encounter/{mother}-stay" not in self._seen:
            self.add("Encounter", f"{mother}-stay", mother, **hers)
        went, places = row.cells.get("disposition"), []
        room = row.cells.get("birth_place")
        left = self.time("end", row, "leave_birth_room_minutes")
        if room or left:
            place = (self.local if room.is_unknown else PLACE, room.text) if room else None
            system, name = place or (PLACE, "place_of_birth")
            located = {"identifier": {"system": system, "value": name}}
            places.append({"location": located, **({"period": left} if left else {})})
        if arrived := self.time("start", row, "arrival_minutes"):
            located = {"identifier": {"system": PLACE, "value": "receiving_unit"}}
            places.append({"location": located, "period": arrived})
        stay: Json = {"status": "finished", "class": inpatient}
        if went is not None and went.text == "in_unit":
            stay["status"] = "in-progress"
        elif went is not None:
            pair = (self.local, went.text) if went.is_unknown else _STAYS[went.text]
            stay["hospitalization"] = {"dischargeDisposition": _concept(pair)}
        stay["period"] = self.time("end", row, "discharge_minutes") or None
        stay["partOf"] = {"reference": f"Encounter/{mother}-stay"}
        self.add("Encounter", f"{row.key}-stay", row.key, location=places or None, **stay)

    def _fact(self, row: Row, name: str, cell: Cell, subject: str) -> None:
        column, held = f"admission.{name}", self.unit.contract["admission"].columns[name]
        pair = self._by_says.get(((column, cell.text),))
        # A name of the column within an id: letters and digits alone.
        known = f"{row.key}-{name.replace('_', '-')}"
        if pair and not cell.is_unknown and name in {"mode_of_birth", "anaesthesia"}:
            self.add("Procedure", known, subject, status="completed", code=_concept(pair))
            return
        if pair and (name, cell.text) in {("maternal_diabetes", "true"), ("live_birth", "false")}:
            self.add("Condition", known, subject, code=_concept(pair))
            return
        time = self.time("effectiveDateTime", row, _MEASURED_AT.get(name, ""))
        code = self._by_value.get(column, (OWN, column))
        if name == "maternal_temperature_c":
            code = ("http://loinc.org", "8310-5")
        self.add(
            "Observation", known, subject, status="final", code=_concept(code),
            **time, **self._fact_value(name, cell, held.type),
        )  # fmt: skip

    def _fact_value(self, name: str, cell: Cell, kind: str) -> Json:
        table = self.unit.contract["admission"]
        if kind == "code":
            return {"valueCodeableConcept": self.word(f"admission.{name}", cell)}
        if kind == "boolean" and cell.text in {"true", "false"} and not cell.is_unknown:
            return {"valueBoolean": cell.text == "true"}
        if name == "gestational_age_days":
            weeks = re.fullmatch(r"(\d\d)\+([0-6])", cell.text)
            days = str(int(weeks[1]) * 7 + int(weeks[2])) if weeks else cell.text
            return self.value(days, "d") if weeks else {"valueString": cell.text}
        return self.value(cell.text, table.columns[name].unit if is_measured(table, name) else None)

    def observation(self, row: Row) -> None:
        kind, site = row.cells.get("kind"), row.cells.get("site")
        if kind is None or kind.is_unknown:
            code, place = _concept((self.local, row.text("kind") or "none")), None
        else:
            both = {"observation__kind": kind.text, "observation__site": row.text("site")}
            is_one = tuple(sorted((n.replace("__", "."), w) for n, w in both.items() if w))
            codings = self._by_says.get(is_one)
            code = _concept(codings or self.code(observation__kind=kind.text)[0])
            place = None if codings else self.word("observation.site", site)
        unit = self.unit.contract["observation"].kinds.get(row.text("kind"))
        self.add(
            "Observation", row.mark, row.key, status="final", code=code, bodySite=place,
            method=self.word("observation.method", row.cells.get("method")),
            **self.time("effectiveDateTime", row, "minutes"),
            **self.time("issued", row, "charted_minutes"),
            **self.value(row.text("value"), unit.unit if unit else None),
        )  # fmt: skip

    def dose(self, row: Row) -> None:
        """Write a dose; what was not given has the reason, and our own word for who decided."""
        kind, strength = row.cells.get("kind"), row.cells.get("strength")
        held: list[tuple[str, str]] = []
        if kind is None or kind.is_unknown:
            held = [(self.local, row.text("kind") or "none")]
        else:
            says = {"dose__kind": kind.text, "dose__strength": row.text("strength")}
            exact = self.code(**says)
            held = exact if len(exact) == 1 else [*self.code(dose__kind=kind.text), exact[1]]
        if strength is not None and strength.is_unknown:
            held = [
                *self.code(dose__kind=row.text("kind")),
                (OWN, f"dose.strength.{strength.text}"),
            ]
        status, reasons = row.cells.get("status"), []
        if status is not None and not status.is_unknown and status.text != "given":
            reasons = [(OWN, f"dose.status.{status.text}")]
        why = self.word("dose.reason", row.cells.get("reason"))
        reasons += [(one["system"], one["code"]) for one in (why or {"coding": []})["coding"]]
        word = {"given": "completed", "refused": "not-done", "held": "not-done"}
        told = "unknown" if status is None or status.is_unknown else word[status.text]
        amount = self._amount(row)
        shared = {"route": self.word("dose.route", row.cells.get("route"))}
        shared["site"] = self.word("dose.site", row.cells.get("site"))
        if row.text("kind") in _VACCINES and told != "unknown":
            at = self.time("occurrenceDateTime", row, "minutes") or {
                "occurrenceString": "time not recorded"
            }
            self.add(
                "Immunization", row.mark, row.key, status=told, vaccineCode=_concept(*held),
                statusReason=_concept(*reasons) if reasons else None, doseQuantity=amount,
                **at, **shared,
            )  # fmt: skip
            return
        dosage: Json = {key: one for key, one in (*shared.items(), ("dose", amount)) if one}
        if dosage:
            dosage["text"] = "as charted"
        at = self.time("effectiveDateTime", row, "minutes")
        if "effectiveDateTime" not in at:  # needed here; a period may have no begin
            at = {"effectivePeriod": {"_start": at.get("_effectiveDateTime", _absent("unknown"))}}
        self.add(
            "MedicationAdministration", row.mark, row.key, status=told,
            medicationCodeableConcept=_concept(*held), dosage=dosage or None,
            statusReason=[_concept(*reasons)] if reasons else None, **at,
        )  # fmt: skip

    def _amount(self, row: Row) -> Json | None:
        unit = row.cells.get("amount_unit")
        if not row.text("amount") and unit is None:
            return None
        found = self.quantity(row.text("amount"), unit.text if unit else None)
        return found if row.text("amount") else {k: v for k, v in found.items() if k != "_value"}

    def care(self, row: Row) -> None:
        kind, status = row.cells.get("kind"), row.cells.get("status")
        code = self.word("care.kind", kind) or _concept((self.local, "none"))
        is_not_done = status is not None and status.text == "not_done"
        told = "not-done" if is_not_done else "completed"
        if status is not None and status.is_unknown:
            told = "unknown"
        why = self.word("care.reason", row.cells.get("reason"))
        if row.text("kind") == "hepatitis_b_decision":
            self.add(
                "Communication", row.mark, row.key, status=told, statusReason=why, topic=code,
                **self.time("sent", row, "minutes"),
            )  # fmt: skip
        elif row.text("kind") in _CONDITIONS and told == "completed":
            self.add("Condition", row.mark, row.key, code=code, **self.during("onset", row))
        else:
            amount = row.text("quantity")
            more = (
                [{"url": QUANTITY, "valueQuantity": self.quantity(amount, "1")}] if amount else None
            )
            feed = self.word("care.feed", row.cells.get("feed"))
            self.add(
                "Procedure", row.mark, row.key, status=told, statusReason=why, code=code,
                usedCode=[feed] if feed else None, extension=more, **self.during("performed", row),
            )  # fmt: skip

    def finding(self, row: Row) -> None:
        said = row.cells.get("as_expected")
        word = None
        if said is not None:
            code = _AS_EXPECTED.get(said.text)
            word = _concept((_INTERPRETATION, code) if code else (self.local, said.text))
        detail = row.text("detail")
        self.add(
            "Observation", row.mark, row.key, status="final",
            code=_concept((OWN, f"finding.kind.{row.text('kind')}")),
            interpretation=[word] if word else None,
            valueCodeableConcept=_concept((self.local, detail)) if detail else None,
            **self.time("effectiveDateTime", row, "minutes"),
        )  # fmt: skip
        role, when = row.text("told_role"), self.time("sent", row, "told_minutes")
        if role or when:
            whom = [{"identifier": {"system": self.local, "value": role}}] if role else None
            self.add(
                "Communication", f"{row.mark}-told", row.key, status="completed", recipient=whom,
                about=[{"reference": f"Observation/{row.mark}"}], **when,
            )  # fmt: skip


def write_fhir(unit: Unit, exports: Path, folder: Path) -> Path:
    """Write a unit's CSV exports as FHIR bulk NDJSON, one file a type; return the folder."""
    writer = FhirWriter(unit)
    for row in read_rows(unit, exports):
        getattr(writer, row.table)(row)
    folder.mkdir(parents=True, exist_ok=True)
    for kind, resources in writer.lines.items():
        text = "".join(json.dumps(one, ensure_ascii=False) + "\n" for one in resources)
        (folder / f"{kind}.ndjson").write_text(text, encoding="utf-8")
    return folder


def fhir_unit(text: str, kinds: Mapping[str, Any] | None = None) -> str:
    """Return a unit's file for its FHIR export: what maps columns of CSV is left out."""
    kept, is_kept = [], True
    for line in text.splitlines():
        if line.startswith("["):
            is_kept = not line.startswith(("[[files", "[files", "[recodes"))
        if is_kept and not line.startswith("formats ="):
            kept.append(line)
    named = ", ".join(f'"{kind}"' for kind in kinds or TABLES)
    head = f'[fhir]\nresources = [{named}]\nmother = "encounter"\n'
    place = next(n for n, line in enumerate(kept) if line.startswith("[time]"))
    return "\n".join([*kept[:place], head, *kept[place:]]) + "\n"
