"""The elements of a resource of HL7 FHIR R4: codes through the value sets, times, quantities.

A code that is on no value set is counted by its system; what a cell holds is said nowhere.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from pipelines.definitions.fhir_lines import ABSENT, OWN, Fhir, Meaning

Json = Mapping[str, Any]
# Something stood there that the source could not put into FHIR: listed as unreadable. Of the
# other reasons (unknown, not asked) there is nothing to read. Words of FHIR's data-absent-reason.
_LOST: Final = {"error", "unsupported", "not-a-number", "negative-infinity", "positive-infinity"}
UNREADABLE: Final = "not readable"
UNKNOWN: Final = "a code on no value set"
IN_ERROR: Final = "entered in error"
NOT_BEGUN: Final = "only planned, registered or called off"
NO_CODE: Final = "no code"


@dataclass(slots=True)
class Fact:
    """One entry of a newborn's own row; ``when`` decides which of several is kept."""

    column: str
    text: str
    unit: str | None
    when: float | None
    keep: str


@dataclass(slots=True)
class Told:
    """What one line says, before it is known whose it is and whether a newer version stands."""

    line: int
    id: str
    # lastUpdated, then versionId: the greater is the newer.
    version: tuple[float, int]
    subject: str = ""
    aside: str = ""
    unknown: tuple[str, str] | None = None
    cells: dict[str, str] = field(default_factory=dict)
    facts: list[Fact] = field(default_factory=list)
    # Of a mother: which facts of hers belong to her newborns' rows.
    mothers: list[Fact] = field(default_factory=list)
    # Another resource that this line adds to (a Communication about a finding), or stands within.
    about: str = ""
    begun: float | None = None


def moment(text: Any) -> float | None:
    """Return a dateTime or instant as seconds since 1970; None where it has no time of day."""
    if not isinstance(text, str) or "T" not in text:
        return None
    try:
        read = dt.datetime.fromisoformat(text)
    except ValueError:
        return None
    return read.timestamp() if read.tzinfo else None


def reference(element: Any) -> str:
    """Return the id that a reference points to; "" where it names none."""
    text = element.get("reference", "") if isinstance(element, Mapping) else ""
    return str(text).split("/_history/")[0].rstrip("/").rsplit("/", 1)[-1].removeprefix("urn:uuid:")


def items(element: Any) -> list[Json]:
    """Return the elements of a list that are objects; of one object itself."""
    listed = element if isinstance(element, list) else [element]
    return [one for one in listed if isinstance(one, Mapping)]


def extension(element: Any, url: str) -> Json:
    """Return the extension of an element with this address, empty where it has none."""
    if not isinstance(element, Mapping):
        return {}
    found = (one for one in items(element.get("extension")) if one.get("url") == url)
    return next(found, {})


def codings(concept: Any) -> Iterator[tuple[str, str]]:
    for one in items(concept):
        for coding in items(one.get("coding", one if "system" in one else None)):
            if coding.get("code"):
                yield str(coding.get("system", "")), str(coding["code"])


class Reading:
    """One resource being read: its cells and facts, through the value sets."""

    def __init__(self, resource: Json, line: int, fhir: Fhir):
        meta = resource.get("meta")
        meta = meta if isinstance(meta, Mapping) else {}
        version = str(meta.get("versionId", ""))
        order = (moment(meta.get("lastUpdated")) or 0.0, int(version) if version.isdecimal() else 0)
        self.told = Told(line, str(resource.get("id", "")), order)
        self.resource, self.fhir, self.codes = resource, fhir, fhir.codes

    # What a code says ------------------------------------------------------------------------

    def main(self, *concepts: Any) -> Meaning | None:
        """Return what the code of the resource says; note where none is there, or none known.

        A concept may carry several codes, such as a vaccine's and our own for its strength.
        """
        coded = [pair for concept in concepts for pair in codings(concept)]
        known = [one for pair in coded if (one := self.codes.meaning(*pair)) and one.is_told]
        for found in known:
            self._say(found)
        if not known:
            self.told.aside = self.told.aside or (UNKNOWN if coded else NO_CODE)
            self.told.unknown = coded[0] if coded else None
        return known[0] if known else None

    def _say(self, found: Meaning) -> None:
        for column, word in found.says.items():
            if column.startswith("admission."):
                self.fact(column, word, None, found.keep)
            else:
                self.told.cells.setdefault(column, word)

    def word(self, column: str, *concepts: Any) -> str | None:
        """Return the word of a column that one of the concepts says."""
        table, _, name = column.partition(".")
        is_category = self.codes.contract[table].columns[name].type == "category"
        coded = [pair for concept in concepts for pair in codings(concept)]
        for system, code in coded:
            found = self.codes.meaning(system, code)
            if found is not None and column in found.says:
                return found.says[column]
            if found is not None and not found.says and system != OWN:
                return None  # listed, and says nothing more: "not performed"
        if coded:
            return coded[0][1] if is_category else UNKNOWN
        return UNKNOWN if any(items(concept) for concept in concepts) else None

    def put(self, column: str, text: Any) -> None:
        """Fill a cell; what a code of the resource said stays where nothing is given."""
        if text is not None and text != "":
            self.told.cells[column] = plain(text)

    # Times and values ------------------------------------------------------------------------

    def when(self, *names: str) -> tuple[str | None, str | None]:
        """Return begin and end of the first of the elements that is there, as they are written."""
        for name in names:
            for kind in ("DateTime", "Instant"):
                at = self._time(self.resource, f"{name}{kind}")
                if at is not None:
                    return at, None
            period = self.resource.get(f"{name}Period" if name != "period" else name)
            if isinstance(period, Mapping):
                return self._time(period, "start"), self._time(period, "end")
        return None, None

    def time(self, name: str) -> str | None:
        return self._time(self.resource, name)

    def _time(self, element: Json, name: str) -> str | None:
        if isinstance(element.get(name), str):
            return str(element[name])
        return absent(element.get(f"_{name}"))

    def quantity(self, element: Any) -> tuple[str | None, str | None]:
        """Return number and unit of a Quantity; a unit that is none of UCUM's is as it stands."""
        if not isinstance(element, Mapping):
            return None, None
        number = element.get("value")
        text = plain(number) if number is not None else absent(element.get("_value"))
        if element.get("comparator"):
            text = f"{element['comparator']}{text}" if text else None
        code, spelt = str(element.get("code", "")), str(element.get("unit", ""))
        of_ucum = self.codes.systems.get(str(element.get("system", ""))) == "UCUM"
        if of_ucum and code:
            return text, self.codes.units.get(code, "another unit")
        known = self.codes.units.get(spelt) or self.codes.spelt.get(spelt.casefold())
        return text, known or ("another unit" if spelt or code else None)

    def value(self, column: str) -> tuple[str | None, str | None]:
        """Return text and unit of value[x] for a column."""
        found = self.resource
        if "valueQuantity" in found:
            return self.quantity(found["valueQuantity"])
        for name in ("valueInteger", "valueBoolean", "valueString"):
            if name in found:
                return plain(found[name]), None
        if "valueDateTime" in found:
            return str(found["valueDateTime"]), None
        if "valueCodeableConcept" in found:
            return self.word(column, found["valueCodeableConcept"]), None
        reasons = {code for _, code in codings(found.get("dataAbsentReason"))}
        return (UNREADABLE if reasons & _LOST else None), None

    # A newborn's own row ---------------------------------------------------------------------

    def fact(self, column: str, text: str | None, unit: str | None, keep: str = "first") -> None:
        if text:
            fact = Fact(column, text, unit, self.told.begun, keep)
            self.told.facts.append(fact)
            if column in _OF_A_MOTHER:
                self.told.mothers.append(fact)

    def facts(self, found: Meaning, at: str | None, until: str | None = None) -> None:
        """Add what the code's value and times are, of the newborn and of a mother."""
        if found.value:
            text, unit = self.value(found.value)
            self.fact(found.value, text, unit, found.keep)
        if found.mother and found.mother != found.value:
            text, unit = self.value(found.mother)
            if text:
                of_hers = Fact(found.mother, text, unit, self.told.begun, found.keep)
                self.told.mothers.append(of_hers)
        self.fact(found.at, at, None, found.keep) if found.at else None
        self.fact(found.until, until, None, found.keep) if found.until else None


# What stands in a newborn's row and may stand in its mother's record.
_OF_A_MOTHER: Final = frozenset(
    f"admission.{name}"
    for name in (
        "mode_of_birth", "anaesthesia", "plurality", "gestational_age_days", "room_temperature_c",
        "maternal_temperature_c", "maternal_diabetes", "maternal_hepatitis_b",
        "maternal_hepatitis_b_minutes", "race_ethnicity", "language", "payer",
    )
)  # fmt: skip


def plain(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def absent(element: Any) -> str | None:
    """Return what stands for an element that is not there, by its data-absent-reason."""
    reason = extension(element, ABSENT).get("valueCode")
    return UNREADABLE if reason in _LOST else None
