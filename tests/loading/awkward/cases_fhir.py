"""HL7 FHIR bulk NDJSON: offsets, units, versions, references, and what is no NDJSON of FHIR."""

import gzip
import json
from collections.abc import Callable
from typing import Any

from tests.loading.awkward.truth import NEWBORNS, UTC, Case, Newborn, local, weeks_days

Json = dict[str, Any]
BIRTH_TIME = "http://hl7.org/fhir/StructureDefinition/patient-birthTime"
UCUM = "http://unitsofmeasure.org"
CODES = {"weight": "8339-4", "length": "89269-5", "gestation": "76516-4", "apgar": "9274-2"}
UNIT = """
id = "awkward"
title = "Awkward"
[time]
form = "clock"
zone = "Europe/Berlin"
keep_birth_date = true
[fhir]
resources = ["Patient", "Observation"]
"""


def patient(one: Newborn, born: str | None = None, **more: Any) -> Json:
    stamp = born or local(one.born).isoformat()
    time = {"extension": [{"url": BIRTH_TIME, "valueDateTime": stamp}]}
    day = local(one.born).date().isoformat()
    return {"resourceType": "Patient", "id": one.key, "birthDate": day, "_birthDate": time, **more}


def quantity(value: float, unit: str) -> Json:
    return {"value": value, "unit": unit, "system": UCUM, "code": unit}


def observation(one: Newborn, name: str, code: str, **more: Any) -> Json:
    return {
        "resourceType": "Observation",
        "id": f"{one.key}-{name}",
        "status": "final",
        "code": {"coding": [{"system": "http://loinc.org", "code": code}]},
        "subject": {"reference": f"Patient/{one.key}"},
        **more,
    }


def temperature(one: Newborn, at: str | None = None, **more: Any) -> Json:
    more = more or {"valueQuantity": quantity(one.temperature_c, "Cel")}
    when = at or local(one.taken).isoformat()
    return observation(one, "temperature", "8328-7", effectiveDateTime=when, **more)


def facts(one: Newborn) -> list[Json]:
    days = quantity(one.gestation_days, "d")
    return [
        observation(one, "w", CODES["weight"], valueQuantity=quantity(one.weight_g, "g")),
        observation(one, "l", CODES["length"], valueQuantity=quantity(one.length_cm, "cm")),
        observation(one, "g", CODES["gestation"], valueQuantity=days),
        observation(one, "a", CODES["apgar"], valueInteger=one.apgar),
    ]


def ndjson(resources: list[Json]) -> bytes:
    return "".join(json.dumps(one) + "\n" for one in resources).encode()


def files(
    patients: Callable[[Newborn], Json] = patient,
    temperatures: Callable[[Newborn], Json] = temperature,
    others: Callable[[Newborn], list[Json]] = facts,
    more: list[Json] | None = None,
) -> dict[str, bytes]:
    read = [found for one in NEWBORNS for found in (*others(one), temperatures(one))]
    return {
        "Patient.ndjson": ndjson([patients(one) for one in NEWBORNS]),
        "Observation.ndjson": ndjson([*read, *(more or [])]),
    }


def lines(name: str, *added: bytes) -> dict[str, bytes]:
    """The plain export with lines added to one file."""
    plain = files()
    return {**plain, name: plain[name] + b"\n".join(added) + b"\n"}


FIRST = NEWBORNS[0]
BY_UTC = files(
    lambda one: patient(one, one.born.isoformat().replace("+00:00", "Z")),
    lambda one: temperature(one, f"{one.taken.astimezone(UTC):%Y-%m-%dT%H:%M:%S.000Z}"),
)


def mixed_units(one: Newborn) -> Json:
    if int(one.key[1]) % 2:
        return temperature(one)
    return temperature(one, valueQuantity=quantity(one.temperature_c * 1.8 + 32, "[degF]"))


def heavy(one: Newborn) -> list[Json]:
    kilograms = quantity(one.weight_g / 1000, "kg")
    return [observation(one, "w", CODES["weight"], valueQuantity=kilograms), *facts(one)[1:]]


def in_weeks(one: Newborn) -> list[Json]:
    weeks = quantity(round(one.gestation_days / 7, 3), "wk")
    return [*facts(one)[:2], observation(one, "g", CODES["gestation"], valueQuantity=weeks),
            facts(one)[3]]  # fmt: skip


def in_words(one: Newborn) -> list[Json]:
    weeks = {"valueString": weeks_days(one.gestation_days)}
    return [*facts(one)[:2], observation(one, "g", CODES["gestation"], **weeks), facts(one)[3]]


def versions() -> dict[str, bytes]:
    """A wrong weight, corrected in another file that is read before it, by version and by time."""
    wrong = {"valueQuantity": quantity(1111, "g")}
    old = [
        observation(one, "w", CODES["weight"], meta={"versionId": "9"}, **wrong) for one in NEWBORNS
    ]
    new = [{**facts(one)[0], "meta": {"versionId": "10"}} for one in NEWBORNS]
    for place, (before, after) in enumerate(zip(old, new, strict=True)):
        if place % 2:  # another server: the number begins anew, the time does not
            before["meta"] = {"versionId": "7", "lastUpdated": "2026-12-30T10:00:00+01:00"}
            after["meta"] = {"versionId": "1", "lastUpdated": "2026-12-30T09:30:00Z"}
    plain = files(others=lambda one: facts(one)[1:])
    return {**plain, "Observation.0.ndjson": ndjson(new), "Observation.1.ndjson": ndjson(old)}


MOTHER = {"resourceType": "Patient", "id": "M1", "birthDate": "1994-05-06", "name": [{"text": "X"}]}
BUNDLE = {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": patient(FIRST)}]}
IN_ERROR = {**temperature(FIRST), "id": "slip", "status": "entered-in-error"}
LOST = {**temperature(FIRST), "id": "lost", "subject": {"reference": "Patient/nobody"}}
NO_CODE = {**temperature(FIRST), "id": "bare", "code": {"text": "Temp"}}
OTHER = observation(FIRST, "x", "2160-0", valueQuantity=quantity(0.6, "mg/dL"))
SAME_TWICE = {**temperature(FIRST), "valueQuantity": quantity(31.0, "Cel")}
EVERY = frozenset(one.key for one in NEWBORNS)
VALUES = frozenset(("value", key) for key in EVERY)


def of(name: str, given: dict[str, bytes] | None = None, unit: str = UNIT, **more: Any) -> Case:
    return Case(f"fhir_{name}", unit, given or files(), **more)


FHIR = (
    of("plain"),
    of("packed", {f"{name}.gz": gzip.compress(text) for name, text in files().items()}),
    of("in_utc", BY_UTC),
    of("two_units", files(temperatures=mixed_units, others=heavy)),
    of("weeks_not_said", files(others=in_weeks), refused="gestation is given in weeks"),
    of("weeks_exact", files(others=in_weeks), UNIT + 'weeks = "exact"\n'),
    of("gestation_as_a_string", files(others=in_words)),
    of("versions", versions(), rejected=8),
    of("same_version_twice", lines("Observation.ndjson", ndjson([SAME_TWICE])), rejected=1),
    of("entered_in_error", files(more=[IN_ERROR]), rejected=1),
    of(
        "entered_in_error_as_newest",
        files(more=[{**IN_ERROR, "id": "B1-temperature", "meta": {"versionId": "2"}}]),
        rejected=2,
        absent=frozenset({("value", "B1"), ("minutes", "B1")}),
    ),
    of("leads_nowhere", files(more=[LOST]), rejected=1),
    of("no_code", files(more=[NO_CODE]), rejected=1),
    of("unknown_code", files(more=[OTHER]), rejected=1),
    of("broken_line", lines("Observation.ndjson", b'{"resourceType": "Observa'), rejected=1),
    of("another_type", lines("Observation.ndjson", ndjson([patient(FIRST)])), rejected=1),
    of("a_mother", lines("Patient.ndjson", ndjson([MOTHER])), rejected=1),
    of(
        "no_unit",
        files(temperatures=lambda one: temperature(one, valueQuantity={"value": 36.5})),
        unread=VALUES,
    ),
    of(
        "below_a_bound",
        files(
            temperatures=lambda one: temperature(
                one, valueQuantity={**quantity(34, "Cel"), "comparator": "<"}
            )
        ),
        unread=VALUES,
    ),
    of(
        "times_without_offset",
        files(temperatures=lambda one: temperature(one, f"{local(one.taken):%Y-%m-%dT%H:%M:%S}")),
        unread=frozenset(("minutes", key) for key in EVERY),
    ),
    of(
        "days_without_time",
        files(temperatures=lambda one: temperature(one, f"{local(one.taken):%Y-%m-%d}")),
        unread=frozenset(("minutes", key) for key in EVERY),
    ),
    of(
        "offset_of_another_zone",
        unit=UNIT.replace("Europe/Berlin", "America/Chicago"),
        refused="offset",
    ),
    of(
        "no_birth_time",
        files(lambda one: {k: v for k, v in patient(one).items() if k != "_birthDate"}),
        refused="patient-birthTime",
    ),
    of("bundle", {**files(), "Patient.ndjson": ndjson([BUNDLE])}, refused="is a Bundle"),
    of(
        "list",
        {**files(), "Patient.ndjson": json.dumps([patient(one) for one in NEWBORNS]).encode()},
        refused="one JSON list",
    ),
    of(
        "laid_out_on_many_lines",
        {**files(), "Patient.ndjson": json.dumps(patient(FIRST), indent=2).encode()},
        refused="on many lines",
    ),
    of(
        "nothing_of_the_type",
        {**files(), "Observation.ndjson": files()["Patient.ndjson"]},
        refused="no line is of type Observation",
    ),
    of("empty", {**files(), "Observation.ndjson": b""}, refused="empty (0 bytes)"),
    of("wide_letters", {**files(), "Patient.ndjson": "{}".encode("utf-16")}, refused="UTF-8"),
    of("a_type_is_missing", {"Patient.ndjson": files()["Patient.ndjson"]}, refused="no file"),
    of("minutes", unit=UNIT.replace('"clock"', '"minutes"').replace("keep_birth_date = true", ""),
       refused="FHIR has instants"),
    of("unknown_resource", unit=UNIT.replace('"Observation"', '"Observations"'),
       refused="is not read"),
)  # fmt: skip
