"""What one resource of HL7 FHIR R4 says, in the contract's columns: ``table.column`` -> text.

Only the elements named here are looked at: names, addresses, telecom, photographs, narratives and
notes are never read.
"""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any, Final

from pipelines.definitions.fhir_lines import BIRTH_TIME, PLACE, QUANTITY, Fhir
from pipelines.stages.raw.fhir_elements import (
    IN_ERROR,
    NOT_BEGUN,
    UNKNOWN,
    Json,
    Reading,
    Told,
    absent,
    codings,
    extension,
    items,
    moment,
    plain,
    reference,
)


def _status(read: Reading, *not_begun: str) -> str:
    status = str(read.resource.get("status", ""))
    if status == "entered-in-error":
        read.told.aside = IN_ERROR
    elif status in {"planned", "cancelled", "registered", "preparation", *not_begun}:
        read.told.aside = NOT_BEGUN
    return status


def _observation(read: Reading) -> None:
    _status(read)
    resource, told = read.resource, read.told
    at, end = read.when("effective")
    told.begun = moment(at)
    found = read.main(resource.get("code"))
    if found is None:
        return
    if "observation.kind" in told.cells:
        read.put("observation.minutes", at)
        read.put("observation.charted_minutes", read.time("issued"))
        number, unit = read.value("observation.value")
        read.put("observation.value", number)
        read.put("observation.value.unit", unit)
        read.put("observation.site", read.word("observation.site", resource.get("bodySite")))
        read.put("observation.method", read.word("observation.method", resource.get("method")))
    if "finding.kind" in told.cells:
        _finding(read, at)
    if "care.kind" in told.cells:
        reasons = resource.get("dataAbsentReason")
        _care(read, at, end, "not-done" if reasons else "completed", reasons)
    read.facts(found, at, end)


def _finding(read: Reading, at: str | None) -> None:
    resource = read.resource
    read.put("finding.minutes", at)
    said = resource.get("interpretation")
    if "valueBoolean" in resource:
        read.put("finding.as_expected", resource["valueBoolean"])
    elif said is not None:
        read.put("finding.as_expected", read.word("finding.as_expected", said))
    concept = resource.get("valueCodeableConcept")
    if said is None and "valueBoolean" not in resource and concept is not None:
        read.put("finding.as_expected", read.word("finding.as_expected", concept))
    elif concept is not None:
        read.put("finding.detail", read.word("finding.detail", concept))


_DONE: Final = {"completed": "done", "in-progress": "done", "stopped": "done", "finished": "done"}
_GIVEN: Final = {"completed": "given", "in-progress": "given", "stopped": "given"}


def _care(read: Reading, at: str | None, end: str | None, status: str, reason: Any) -> None:
    read.put("care.minutes", at)
    read.put("care.end_minutes", end)
    word = "not_done" if status in {"not-done", "on-hold"} else _DONE.get(status, status)
    read.put("care.status", word)
    read.put("care.reason", read.word("care.reason", reason))


def _dose(read: Reading, medicine: Any, at: str | None, status: str) -> None:
    resource = read.resource
    if read.main(medicine) is None or "dose.kind" not in read.told.cells:
        read.told.aside = read.told.aside or "no medicine or vaccine of the contract"
        return
    read.put("dose.minutes", at)
    why = resource.get("statusReason")
    reason, status_said = read.word("dose.reason", why), read.word("dose.status", why)
    word = _GIVEN.get(status, status)
    if status in {"not-done", "on-hold"}:
        word = "refused" if reason == "declined" else "held"
        if status_said not in {None, UNKNOWN}:
            word = str(status_said)  # our own code for it, beside the reason
            reason = None if reason == UNKNOWN else reason
    read.put("dose.status", word)
    read.put("dose.reason", reason)


def _amount(read: Reading, quantity: Any) -> None:
    number, unit = read.quantity(quantity)
    read.put("dose.amount", number)
    read.put("dose.amount_unit", unit)


def _administration(read: Reading) -> None:
    status, resource = _status(read), read.resource
    medicine = resource.get("medicationCodeableConcept")
    pointed = resource.get("medicationReference")
    if medicine is None and isinstance(pointed, Mapping):
        name = str(pointed.get("reference", "")).removeprefix("#")
        held = (one for one in items(resource.get("contained")) if one.get("id") == name)
        medicine = next(held, {}).get("code")
        if medicine is None:
            read.told.aside = "the medicine stands in a Medication, which is not read"
            return
    at, _ = read.when("effective")
    _dose(read, medicine, at, status)
    dosage = resource.get("dosage")
    if isinstance(dosage, Mapping) and "dose.kind" in read.told.cells:
        read.put("dose.route", read.word("dose.route", dosage.get("route")))
        read.put("dose.site", read.word("dose.site", dosage.get("site")))
        _amount(read, dosage.get("dose"))


def _immunization(read: Reading) -> None:
    status, resource = _status(read), read.resource
    at = read.time("occurrenceDateTime")
    _dose(read, resource.get("vaccineCode"), at, status)
    if "dose.kind" in read.told.cells:
        read.put("dose.route", read.word("dose.route", resource.get("route")))
        read.put("dose.site", read.word("dose.site", resource.get("site")))
        _amount(read, resource.get("doseQuantity"))


def _procedure(read: Reading) -> None:
    status = _status(read)
    at, end = read.when("performed")
    read.told.begun = moment(at)
    found = read.main(read.resource.get("code"))
    if found is None:
        return
    if status in {"not-done", "on-hold"}:
        read.told.facts.clear()  # what was not done is no fact of how a newborn came to birth
    else:
        read.facts(found, at, end)
    if "care.kind" in read.told.cells:
        _care(read, at, end, status, read.resource.get("statusReason"))
        feed = read.word("care.feed", read.resource.get("usedCode"))
        read.put("care.feed", feed)
        amount = extension(read.resource, QUANTITY).get("valueQuantity")
        read.put("care.quantity", read.quantity(amount)[0])
    if "finding.kind" in read.told.cells:
        read.put("finding.minutes", at)


def _condition(read: Reading) -> None:
    refuted = {code for _, code in codings(read.resource.get("verificationStatus"))}
    if "entered-in-error" in refuted:
        read.told.aside = IN_ERROR
    elif refuted & {"refuted", "differential"}:
        read.told.aside = "refuted, or only thought of"
    at, end = read.when("onset")
    read.told.begun = moment(at)
    found = read.main(read.resource.get("code"))
    if found is None:
        return
    read.facts(found, at, end)
    if "care.kind" in read.told.cells:
        _care(read, at, end, "completed", None)
    if "finding.kind" in read.told.cells:
        read.put("finding.minutes", at)


def _communication(read: Reading) -> None:
    status, resource = _status(read), read.resource
    told, sent = read.told, read.time("sent")
    if pointed := [reference(one) for one in items(resource.get("about"))]:
        told.about = pointed[0]
        recipients = [one.get("identifier", one) for one in items(resource.get("recipient"))]
        named = [
            {"system": one.get("system"), "code": one.get("value")}
            if "value" in one
            else {"system": PLACE, "code": one.get("reference")}
            for one in recipients
        ]
        if status not in {"not-done", "on-hold"}:
            read.put("finding.told_role", read.word("finding.told_role", *named))
            read.put("finding.told_minutes", sent)
        return
    subjects = (resource.get("topic"), resource.get("reasonCode"), resource.get("category"))
    if read.main(*subjects) is not None and "care.kind" in told.cells:
        _care(read, sent or read.time("received"), None, status, resource.get("statusReason"))


def _encounter(read: Reading) -> None:
    status, resource, told = _status(read), read.resource, read.told
    at, end = read.when("period")
    told.begun, told.about = moment(at), reference(resource.get("partOf"))
    kinds = (resource.get("type"), resource.get("class"), resource.get("serviceType"))
    if not told.aside and any(list(codings(kind)) for kind in kinds):
        read.main(*kinds)  # most stays need no code: one that says nothing is still a stay
        told.aside, told.unknown = "", None
    if "care.kind" in told.cells:
        _care(read, at, end, "completed", None)
        return
    stay = resource.get("hospitalization")
    stay = stay if isinstance(stay, Mapping) else {}
    for name, element in (("disposition", "dischargeDisposition"), ("birth_place", "admitSource")):
        word = read.word(f"admission.{name}", stay.get(element))
        if word != UNKNOWN or name == "disposition":
            read.fact(f"admission.{name}", word, None)
    if status == "in-progress":
        read.fact("admission.disposition", "in_unit", None)
    read.fact("admission.discharge_minutes", end, None)
    for place in items(resource.get("location")):
        _place(read, place)


def _place(read: Reading, place: Json) -> None:
    pointed = place.get("location")
    pointed = pointed if isinstance(pointed, Mapping) else {}
    name = pointed.get("identifier")
    pair = (
        (str(name.get("system", "")), str(name.get("value", "")))
        if isinstance(name, Mapping)
        else (PLACE, str(pointed.get("reference", "")))
    )
    found = read.codes.meaning(*pair)
    period = place.get("period")
    period = period if isinstance(period, Mapping) else {}
    if found is None:
        return
    for column, word in found.says.items():
        read.fact(column, word, None)
    for column, name_ in ((found.at, "start"), (found.until, "end")):
        if column:
            text = period.get(name_) or absent(period.get(f"_{name_}"))
            read.fact(column, text, None)


def _patient(read: Reading) -> None:
    resource = read.resource
    read.told.begun = _date(resource.get("birthDate"))
    given = extension(resource.get("_birthDate"), BIRTH_TIME)
    born = given.get("valueDateTime") or absent(given.get("_valueDateTime"))
    read.fact("admission.birth_time", born or absent(resource.get("_birthDate")), None)
    read.fact("admission.sex", resource.get("gender"), None)
    for column, url in read.fhir.extensions.items():
        text, unit = _of_extension(read, column, extension(resource, url))
        read.fact(column, text, unit)
    read.told.about = reference(extension(resource, read.fhir.mother).get("valueReference"))
    read.put("record", _record(read))
    for link in items(resource.get("link")):
        if link.get("type") == "replaced-by":
            read.told.aside = "replaced by another record of the same newborn"
            read.told.cells["replaced by"] = reference(link.get("other"))


def _record(read: Reading) -> str | None:
    """Return the key of the record: the id, or the identifier of the system that is named."""
    if read.fhir.record_id == "id":
        return read.told.id
    held = items(read.resource.get("identifier"))
    found = (one.get("value") for one in held if one.get("system") == read.fhir.record_id)
    return next(found, None)


def _of_extension(read: Reading, column: str, found: Json) -> tuple[str | None, str | None]:
    for name in ("valueCode", "valueString", "valueInteger", "valueDecimal", "valueBoolean"):
        if name in found:
            return plain(found[name]), None
    if "valueQuantity" in found:
        return read.quantity(found["valueQuantity"])
    concept = found.get("valueCodeableConcept", found.get("valueCoding"))
    return (None if concept is None else read.word(column, concept)), None


def _date(text: Any) -> float | None:
    try:
        day = dt.date.fromisoformat(str(text)[:10])
    except ValueError:
        return None
    return dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC).timestamp()


READERS: Final[Mapping[str, Callable[[Reading], None]]] = {
    "Patient": _patient,
    "Encounter": _encounter,
    "Observation": _observation,
    "MedicationAdministration": _administration,
    "Immunization": _immunization,
    "Procedure": _procedure,
    "Condition": _condition,
    "Communication": _communication,
}


def read_resource(resource: Json, line: int, fhir: Fhir) -> Told:
    """Return what one resource says. Its type is one of ``READERS``."""
    read = Reading(resource, line, fhir)
    kind = str(resource["resourceType"])
    READERS[kind](read)
    owner = resource.get("patient" if kind == "Immunization" else "subject")
    read.told.subject = read.told.id if kind == "Patient" else reference(owner)
    return read.told
