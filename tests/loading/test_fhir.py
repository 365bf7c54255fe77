"""HL7 FHIR bulk NDJSON: codes, reasons, mothers, versions, and what must never enter a store.

The generator's own examples are held to the release R4B of fhir.resources, an independent reading
of the HL7 definitions, which for these resources is that of R4. What a resource means is stated
here from the FHIR R4 pages, recalled from memory.
"""

import importlib
import json
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipelines.base.errors import LanugoError
from pipelines.base.store_file import new_store
from pipelines.build.every_stage import load_exports
from pipelines.definitions.fhir_lines import SHIPPED, TABLES, read_codes
from pipelines.definitions.of_units import definitions_of
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import find_unit, read_unit
from pipelines.stages.raw.kept_rows import create_raw_tables
from pipelines.stages.typed.tables import create_typed_tables
from synthetic_data import write_demo
from synthetic_data.fhir import fhir_unit, write_fhir
from tests.loading.awkward.cases_fhir import (
    MOTHER,
    UNIT,
    files,
    ndjson,
    observation,
    patient,
    quantity,
    temperature,
)
from tests.loading.awkward.truth import NEWBORNS, local
from tests.loading.same_newborns import UNIT_TEXT
from tests.loading.test_secrets import leaks, run, texts_in
from tests.once import Once

Json = dict[str, Any]
FIRST, SECOND = NEWBORNS[:2]
SECRET, MAIL, PHONE = "Zyrquell", "zyrquell@heimlich.example", "+49 170 5553217"
REASONS = "http://terminology.hl7.org/CodeSystem/v3-ActReason"
SNOMED = "http://snomed.info/sct"
OWN = "urn:lanugo:contract"


@contextmanager
def loaded(
    folder: Path, given: dict[str, bytes], unit: str = UNIT, **beside: str
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Load an export as far as ``typed``; ``beside``: other files beside the unit's file."""
    unit_file, exports = folder / "awkward.toml", folder / "exports"
    exports.mkdir()
    kinds = dict.fromkeys(name.split(".")[0] for name in given)
    named = ", ".join(f'"{kind}"' for kind in kinds)
    unit_file.write_text(unit.replace('"Patient", "Observation"', named), encoding="utf-8")
    for name, text in beside.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    for name, content in given.items():
        (exports / name).write_bytes(content)
    read = read_unit(unit_file)
    definitions = definitions_of([read])
    with new_store(folder / "store.duckdb", [exports]) as connection:
        create_raw_tables(connection)
        create_typed_tables(connection, definitions.contract)
        load_exports(connection, [(read, exports)], definitions)
        yield connection


def event(kind: str, name: str, one: Any = FIRST, **more: Any) -> Json:
    owner = "patient" if kind == "Immunization" else "subject"
    key = one if isinstance(one, str) else one.key
    return {"resourceType": kind, "id": name, owner: {"reference": f"Patient/{key}"}, **more}


def code(system: str, *codes: str) -> Json:
    return {"coding": [{"system": system, "code": one} for one in codes]}


def with_files(**more: list[Json]) -> dict[str, bytes]:
    return {**files(), **{f"{kind}.ndjson": ndjson(found) for kind, found in more.items()}}


# The value sets ---------------------------------------------------------------------------------


def test_every_code_says_where_it_is_from() -> None:
    spec = tomllib.loads(SHIPPED.read_text(encoding="utf-8"))
    for name, table in spec["codes"].items():
        for one, meaning in table.items():
            assert meaning["source"] in spec["sources"], (name, one)
            assert meaning["name"].strip(), (name, one)
    # Addresses of the systems: HL7 FHIR R4, page "Using Codes", from memory.
    assert spec["systems"].items() >= {
        ("LOINC", "http://loinc.org"),
        ("SNOMED CT", "http://snomed.info/sct"),
        ("RxNorm", "http://www.nlm.nih.gov/research/umls/rxnorm"),
        ("CVX", "http://hl7.org/fhir/sid/cvx"),
        ("UCUM", "http://unitsofmeasure.org"),
    }
    assert all(spec["codes"][name] for name in ("LOINC", "SNOMED CT", "RxNorm", "CVX", "UCUM"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            '[codes.LOINC]\n"1-8" = { name = "x", source = "own", says = { "care.kin" = "a" } }',
            "kin",
        ),
        (
            '[codes.LOINC]\n"1-8" = { name = "x", source = "own", says = { "care.kind" = "bat" } }',
            "bath",
        ),
        ('[codes.mine]\n"1" = { name = "x", source = "own" }', "address"),
        ('[codes.LOINC]\n"1-8" = { name = "x" }', "source"),
        ("[codes", "TOML"),
    ],
)
def test_a_file_of_codes_that_cannot_be_meant_is_refused(
    tmp_path: Path, text: str, said: str
) -> None:
    path = tmp_path / "codes.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(LanugoError, match=said):
        read_codes([SHIPPED, path], read_contract())


def test_a_unit_says_what_its_own_codes_mean(tmp_path: Path) -> None:
    own = (
        '[systems]\nward = "urn:ward"\n[codes.ward]\n'
        'T9 = { name = "temp", source = "the ward", says = { "observation.kind" = "temperature" } }'
    )
    bath = event("Procedure", "p", status="completed", code=code("urn:ward", "B"))
    warm = {**temperature(FIRST), "id": "t9", "code": code("urn:ward", "T9")}
    given = {**files(more=[warm]), "Procedure.ndjson": ndjson([bath])}
    with loaded(tmp_path, given, UNIT + 'codes = "codes.toml"\n', codes=own) as connection:
        counted = connection.execute(
            "select count(*) from typed.observation where record_id = 'B1' and kind = 'temperature'"
        ).fetchone()
        note = connection.execute(
            "select note from typed.load_log where source_file = 'Procedure.ndjson'"
        ).fetchone()
    assert counted == (2,)
    assert note is not None
    assert "codes on no value set: ward 1 lines, 1 codes" in str(note[0])


# What was not done ------------------------------------------------------------------------------


def test_not_done_is_documented_with_its_reason(tmp_path: Path) -> None:
    declined, stock = code(REASONS, "PATOBJ"), code(REASONS, "OSTOCK")
    vaccine = code("http://hl7.org/fhir/sid/cvx", "08")
    vitamin = code("http://www.nlm.nih.gov/research/umls/rxnorm", "8308")
    at = local(FIRST.taken).isoformat()
    given = with_files(
        Immunization=[
            event("Immunization", "i1", status="not-done", vaccineCode=vaccine,
                  occurrenceDateTime=at, statusReason=declined),
            event("Immunization", "i2", SECOND, status="completed", vaccineCode=vaccine,
                  occurrenceDateTime=at),
        ],
        MedicationAdministration=[
            event("MedicationAdministration", "m1", status="not-done", effectiveDateTime=at,
                  medicationCodeableConcept=vitamin, statusReason=[stock]),
            event("MedicationAdministration", "m2", SECOND, status="not-done",
                  medicationCodeableConcept=vitamin, effectiveDateTime=at),
            event("MedicationAdministration", "m3", NEWBORNS[2], status="completed",
                  medicationReference={"reference": "#k"}, effectiveDateTime=at,
                  contained=[{"resourceType": "Medication", "id": "k", "code": vitamin}],
                  dosage={"dose": quantity(1, "mg"), "route": code(SNOMED, "78421000")}),
            event("MedicationAdministration", "m4", NEWBORNS[2], status="completed",
                  medicationReference={"reference": "Medication/9"}, effectiveDateTime=at),
        ],
        Procedure=[
            event("Procedure", "p1", status="not-done", code=code(OWN, "care.kind.bath"),
                  performedDateTime=at, statusReason=declined),
        ],
        Communication=[
            event("Communication", "c1", status="not-done", sent=at, statusReason=declined,
                  topic=code(OWN, "care.kind.hepatitis_b_decision")),
        ],
    )  # fmt: skip
    with loaded(tmp_path, given) as connection:
        doses = connection.execute(
            "select record_id, kind, status, reason, route, amount, strength from typed.dose "
            "order by source_file, source_line"
        ).fetchall()
        care = connection.execute(
            "select kind, status, reason from typed.care order by kind"
        ).fetchall()
        rejected = connection.execute("select reason from typed.rejected").fetchall()
    assert doses == [
        ("B1", "hepatitis_b_vaccine", "refused", "declined", None, None, "newborn"),
        ("B2", "hepatitis_b_vaccine", "given", None, None, None, "newborn"),
        ("B1", "vitamin_k", "held", "no_stock", None, None, None),
        ("B2", "vitamin_k", "held", None, None, None, None),
        ("B3", "vitamin_k", "given", None, "intramuscular", 1.0, None),
    ]
    assert care == [
        ("bath", "not_done", "declined"),
        ("hepatitis_b_decision", "not_done", "declined"),
    ]
    assert rejected == [("the medicine stands in a Medication, which is not read",)]


# Mothers, stays, findings -----------------------------------------------------------------------


def stays(name: str, newborn: str, mother: str) -> list[Json]:
    return [
        event("Encounter", f"{name}-m", mother, status="finished"),
        event("Encounter", f"{name}-n", newborn, status="finished",
              partOf={"reference": f"Encounter/{name}-m"}),
    ]  # fmt: skip


def her(name: str, value: str, on: str) -> Json:
    return event("Observation", name, "M1", status="final", code=code("http://loinc.org", "5196-1"),
                 effectiveDateTime=on, valueCodeableConcept=code(SNOMED, value))  # fmt: skip


def test_what_a_mothers_record_says_reaches_her_newborns_of_that_pregnancy(tmp_path: Path) -> None:
    positive, negative = "10828004", "260385009"
    found = [
        her("h1", negative, "2026-01-05T10:00:00+01:00"),
        her("h2", positive, "2026-03-20T10:00:00+01:00"),  # the last before these births
        her("h3", negative, "2024-02-01T10:00:00+01:00"),  # an earlier pregnancy
        {**her("h4", negative, "2026-03-21T10:00:00+01:00"), "status": "entered-in-error"},
    ]
    given = {
        **files(more=found),
        "Patient.ndjson": ndjson([*(patient(one) for one in NEWBORNS), MOTHER]),
        "Encounter.ndjson": ndjson([*stays("a", "B1", "M1"), *stays("b", "B2", "M1")]),
    }
    with loaded(tmp_path, given, UNIT + 'mother = "encounter"\n') as connection:
        told = connection.execute(
            "select record_id, maternal_hepatitis_b from typed.admission "
            "where maternal_hepatitis_b is not null order by record_id"
        ).fetchall()
        newborns = connection.execute("select count(*) from typed.admission").fetchone()
        log = connection.execute("select rows_in, rows_kept, rows_rejected from typed.load_log")
        assert all(rows == kept + out for rows, kept, out in log.fetchall())
    assert told == [("B1", "positive"), ("B2", "positive")]
    assert newborns == (8,)


@pytest.mark.parametrize("born", [None, "2017-06-01", "2026-01-01"])
def test_a_mother_is_no_newborn_whatever_her_birth_date_says(
    born: str | None, tmp_path: Path
) -> None:
    """The link alone tells: dates of mothers are often left out, or shifted, in an export."""
    mother = {key: value for key, value in MOTHER.items() if key != "birthDate"}
    mother |= {"birthDate": born} if born else {}
    given = {
        **files(),
        "Patient.ndjson": ndjson([*(patient(one) for one in NEWBORNS), mother]),
        "Encounter.ndjson": ndjson(stays("a", "B1", "M1")),
    }
    with loaded(tmp_path, given, UNIT + 'mother = "encounter"\n') as connection:
        told = connection.execute("select record_id from typed.admission").fetchall()
    assert sorted(told) == sorted((one.key,) for one in NEWBORNS)


def test_a_mother_can_be_named_by_an_extension(tmp_path: Path) -> None:
    url = "urn:ward:mother"
    link = [{"url": url, "valueReference": {"reference": "Patient/M1"}}]
    given = {
        **files(more=[her("h", "10828004", "2026-03-20T10:00:00+01:00")]),
        "Patient.ndjson": ndjson(
            [patient(FIRST, extension=link), *(patient(one) for one in NEWBORNS[1:]), MOTHER]
        ),
    }
    with loaded(tmp_path, given, UNIT + f'mother = "{url}"\n') as connection:
        told = connection.execute(
            "select record_id from typed.admission where maternal_hepatitis_b = 'positive'"
        ).fetchall()
    assert told == [("B1",)]


def test_the_first_stay_tells_where_it_was_born_and_how_it_left(tmp_path: Path) -> None:
    born = local(FIRST.born)
    period = {"start": born.isoformat(), "end": "2026-03-31T12:00:00+02:00"}
    place = {"identifier": {"system": "urn:lanugo:place", "value": "operating_room"}}
    home = code("http://terminology.hl7.org/CodeSystem/discharge-disposition", "home")
    first = event("Encounter", "e1", status="finished", period=period,
                  hospitalization={"dischargeDisposition": home},
                  location=[{"location": place, "period": {"end": "2026-03-29T03:30:00+02:00"}}],
                  )  # fmt: skip
    later = event("Encounter", "e2", status="finished", period={"start": "2026-05-01T10:00:00Z"})
    with loaded(tmp_path, with_files(Encounter=[later, first])) as connection:
        told = connection.execute(
            "select birth_place, leave_birth_room_minutes, disposition, discharge_minutes "
            "from typed.admission where record_id = 'B1'"
        ).fetchone()
        rejected = connection.execute("select reason, source_line from typed.rejected").fetchall()
    # Born 01:30 in winter time, left the room 03:30 in summer time: one hour later.
    assert told == ("operating_room", 60.0, "home", 3450.0)
    assert rejected == [("a later stay; the first is read", 1)]


def test_a_communication_says_who_was_told_of_a_finding(tmp_path: Path) -> None:
    at, told = "2026-03-29T04:30:00+02:00", "2026-03-29T05:00:00+02:00"
    seen = event("Observation", "f", status="final", code=code(OWN, "finding.kind.palate"),
                 effectiveDateTime=at, interpretation=[code(
                     "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation", "A")],
                 )  # fmt: skip
    whom = [{"identifier": {"system": "urn:ward:roles", "value": "provider"}, "display": SECRET}]
    given = {
        **files(more=[seen]),
        "Communication.ndjson": ndjson(
            [
                event("Communication", "c1", status="completed", sent=told, recipient=whom,
                      about=[{"reference": "Observation/f"}]),
                event("Communication", "c2", status="completed", sent=told,
                      about=[{"reference": "Observation/gone"}]),
            ]
        ),
    }  # fmt: skip
    with loaded(tmp_path, given) as connection:
        found = connection.execute(
            "select kind, as_expected, minutes, told_minutes from typed.finding"
        ).fetchall()
        rejected = connection.execute("select reason from typed.rejected").fetchall()
    assert found == [("palate", False, 120.0, 150.0)]
    assert rejected == [("about something that is no finding of the export",)]


def test_a_merged_record_follows_the_one_that_replaced_it(tmp_path: Path) -> None:
    moved = {"type": "replaced-by", "other": {"reference": "Patient/B1"}}
    old = patient(FIRST, link=[moved]) | {"id": "B0"}
    warm = {**temperature(FIRST), "id": "old", "subject": {"reference": "Patient/B0"}}
    given = {
        **files(more=[warm]),
        "Patient.ndjson": ndjson([old, *(patient(one) for one in NEWBORNS)]),
    }
    with loaded(tmp_path, given) as connection:
        keys = connection.execute("select record_id from typed.admission order by all").fetchall()
        told = connection.execute(
            "select count(*) from typed.observation where record_id = 'B1'"
        ).fetchone()
    assert keys == [(one.key,) for one in NEWBORNS]
    assert told == (2,)


# What is said, and what never is ----------------------------------------------------------------


def test_unknown_codes_are_counted_by_their_system(tmp_path: Path) -> None:
    other = [
        observation(NEWBORNS[place % 8], f"c{place}", "2160-0", valueInteger=1)
        for place in range(12)
    ]
    rare = [observation(FIRST, "r", "718-7", valueInteger=1)]
    own = [{**rare[0], "id": "o", "code": code("urn:unnamed", SECRET)}]
    with loaded(tmp_path, files(more=[*other, *rare, *own])) as connection:
        note = connection.execute(
            "select note from typed.load_log where source_file = 'Observation.ndjson'"
        ).fetchone()
        rejected = connection.execute(
            "select reason, count(*) from typed.rejected group by all"
        ).fetchall()
    said = str(note)
    assert "LOINC 13 lines, 2 codes: 2160-0 (12); a system without a name 1 lines, 1 codes" in said
    assert "718-7" not in said
    assert SECRET not in said
    assert rejected == [("a code on no value set", 14)]


def test_what_was_dropped_is_said_in_the_load_log(tmp_path: Path) -> None:
    slip = {**temperature(FIRST), "id": "slip", "status": "entered-in-error"}
    newer = {**temperature(SECOND), "meta": {"versionId": "2"}}
    with loaded(tmp_path, files(more=[slip, newer])) as connection:
        note = connection.execute(
            "select note from typed.load_log where source_file = 'Observation.ndjson'"
        ).fetchone()
    assert "lines dropped: 1 entered in error, 1 older versions" in str(note)


def test_no_column_is_missing_where_none_is_named(tmp_path: Path) -> None:
    """A file of Procedures without a bath lacks nothing that anybody mapped."""
    bath = event("Procedure", "p", status="completed", code=code(OWN, "care.kind.bath"))
    with loaded(tmp_path, with_files(Procedure=[bath])) as connection:
        notes = connection.execute("select note from typed.load_log").fetchall()
        absent = connection.execute(
            "select count(*) from typed.column_source where not is_present"
        ).fetchone()
        held = connection.execute(
            "select distinct column_name from typed.column_source "
            "where table_name = 'care' order by all"
        ).fetchall()
    assert notes == [(None,)] * 3
    assert absent == (0,)
    assert held == [("kind",), ("record_id",), ("status",)]


def test_a_key_can_be_an_identifier_and_be_hashed(tmp_path: Path) -> None:
    (tmp_path / "key.txt").write_text("a key that is long enough to be one, 32 letters or more")
    given = {
        **files(),
        "Patient.ndjson": ndjson(
            [
                patient(one, identifier=[{"system": "urn:study", "value": f"S-{one.key}"}])
                for one in NEWBORNS
            ]
        ),
    }
    unit = UNIT + 'record_id = "urn:study"\n[identifiers]\nkey_file = "key.txt"\n'
    with loaded(tmp_path, given, unit) as connection:
        keys = connection.execute("select record_id from typed.admission").fetchall()
        warm = connection.execute("select record_id from typed.observation").fetchall()
    assert len({key for (key,) in keys}) == 8
    assert all(len(str(key)) == 20 for (key,) in keys)
    assert {*keys} == {*warm}


def with_people(resource: Json) -> Json:
    """Put a secret into every place of a resource in which FHIR holds words about people."""
    text = {
        "status": "generated",
        "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{SECRET}</div>',
    }
    more: Json = {"text": text}
    if resource["resourceType"] == "Patient":
        more |= {
            "name": [{"family": SECRET, "given": [SECRET]}],
            "telecom": [{"system": "email", "value": MAIL}, {"system": "phone", "value": PHONE}],
            "address": [{"line": [SECRET], "city": SECRET, "postalCode": "5553217"}],
            "contact": [{"name": {"text": SECRET}, "telecom": [{"value": PHONE}]}],
            "identifier": [{"system": "urn:mrn", "value": "5553217"}],
        }
    else:
        more |= {"note": [{"text": f"Frau {SECRET}"}], "performer": [{"display": SECRET}]}
        if "code" in resource:
            more["code"] = {**resource["code"], "text": SECRET}
    owner = next((key for key in ("subject", "patient") if key in resource), None)
    if owner:
        more[owner] = {**resource[owner], "display": SECRET}
    return {**resource, **more}


@pytest.fixture(scope="module")
def example(once: Once) -> Path:
    return once("fhir_example", make_example)


def make_example(folder: Path) -> Path:
    written = write_demo(folder, seed=7, units=["quillmere"], n_months=2, births_per_month=45)
    write_fhir(find_unit("quillmere"), written.exports["quillmere"], folder / "fhir")
    (folder / "unit.toml").write_text(fhir_unit(UNIT_TEXT), encoding="utf-8")
    return folder


@pytest.mark.slow
def test_our_examples_are_valid_fhir(example: Path) -> None:
    for kind in TABLES:
        module = importlib.import_module(f"fhir.resources.R4B.{kind.lower()}")
        held: Callable[[str], Any] = getattr(module, kind).model_validate_json
        lines = (example / "fhir" / f"{kind}.ndjson").read_text(encoding="utf-8").splitlines()
        assert lines, kind
        for line in lines[:400]:
            held(line)
        with pytest.raises(ValueError):  # what judges must be able to refuse
            held(lines[0].replace(f'"resourceType": "{kind}"', f'"resourceType": "{kind}", "x": 1'))


@pytest.mark.build
@pytest.mark.slow
def test_names_and_addresses_never_enter_a_store(
    example: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    exports, store = tmp_path / "exports", tmp_path / "store.duckdb"
    exports.mkdir()
    for path in (example / "fhir").iterdir():
        planted = [with_people(json.loads(line)) for line in path.read_text("utf-8").splitlines()]
        (exports / path.name).write_bytes(ndjson(planted))
    assert leaks(texts_in(exports / "Patient.ndjson"))
    of = ("--unit", example / "unit.toml", "--exports", exports, "--store", store)
    assert run("build", *of, "--dry-run") == 0
    assert run("build", *of) == 0
    said = capfd.readouterr()
    assert "Look at the unit file" not in said.out or "FHIR" not in said.out
    assert leaks(said.out + said.err) == []
    assert leaks(texts_in(store)) == []
