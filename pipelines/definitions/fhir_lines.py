"""``[fhir]`` of a unit's file, and what codes of HL7 FHIR R4 say (``fhir_codes.toml``).

An export of FHIR bulk NDJSON names no columns. What each resource says is brought to the contract's
columns, written ``table.column``, so that a unit maps nothing: it names its resources, and which
codes of its own say what.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.read_contract import Contract, Table
from pipelines.definitions.spec_checks import need, read_toml, refuse_unknown

SHIPPED: Final = Path(__file__).parent / "fhir_codes.toml"
# A name of our own: "care.kind.two_bands" says what no standard system has a code for.
OWN: Final = "urn:lanugo:contract"
PLACE: Final = "urn:lanugo:place"
ABSENT: Final = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
BIRTH_TIME: Final = "http://hl7.org/fhir/StructureDefinition/patient-birthTime"
# Procedure has no element for a number, such as the seconds to the clamping of the cord.
QUANTITY: Final = "urn:lanugo:contract:care.quantity"
# dateTime and instant of FHIR R4: where there is a time there is an offset.
FORMS: Final = ("%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%dT%H:%M:%S.%f%z", "%Y-%m-%dT%H:%M%z")
# Which tables the lines of a resource can fill, beside the newborn's own row.
TABLES: Final[Mapping[str, tuple[str, ...]]] = {
    "Patient": ("admission",),
    "Encounter": ("care",),
    "Observation": ("observation", "finding", "care"),
    "MedicationAdministration": ("dose",),
    "Immunization": ("dose",),
    "Procedure": ("care", "finding"),
    "Condition": ("care", "finding"),
    "Communication": ("care", "finding"),
}
_DERIVED: Final = {"birth_month", "birth_weekday", "birth_hour", "birth_order"}
_KEYS: Final = {"resources", "patterns", "codes", "record_id", "mother", "weeks", "extensions"}
_MEANING: Final = {"name", "says", "value", "mother", "at", "until", "keep", "unit", "spelt"}
_WEEKS: Final = ("completed", "exact")


@dataclass(frozen=True)
class Meaning:
    """What one code says; see the head of ``fhir_codes.toml``. ``value``, ``at``: columns."""

    says: Mapping[str, str] = field(default_factory=dict)
    value: str = ""
    mother: str = ""
    at: str = ""
    until: str = ""
    keep: str = "first"
    unit: str = ""

    @property
    def is_told(self) -> bool:
        """Whether a line with this code says something; a unit of measurement alone does not."""
        return bool(self.says or self.value or self.mother or self.at)


@dataclass(frozen=True)
class Codes:
    """Codes by (system, code), the systems' names by address, and spellings of units."""

    meanings: Mapping[tuple[str, str], Meaning]
    systems: Mapping[str, str]
    spelt: Mapping[str, str]
    contract: Contract

    def meaning(self, system: str, code: str) -> Meaning | None:
        """Return what a code says, None where it is on no value set."""
        found = self.meanings.get((system, code))
        return self._own(code) if found is None and system == OWN else found

    def _own(self, code: str) -> Meaning | None:
        table, _, rest = code.partition(".")
        name, _, word = rest.partition(".")
        if table not in self.contract or name not in self.contract[table].columns:
            return None
        column = f"{table}.{name}"
        if word:
            return Meaning(says={column: word})
        if self.contract[table].columns[name].type == "minutes":
            return Meaning(at=column)
        return Meaning(value=column, mother=column)

    @cached_property
    def units(self) -> Mapping[str, str]:
        """Every unit by its UCUM code, as the contract writes it."""
        return {code: one.unit for (_, code), one in self.meanings.items() if one.unit}


@dataclass(frozen=True)
class Fhir:
    """What a unit's file says of its FHIR export.

    ``resources``: type -> pattern of its files. ``record_id``: "id", or the system of the
    identifier of a Patient that is the record key. ``mother``: how a newborn's is found
    ("encounter", or the address of an extension; "" where not at all). ``weeks``: what 39 weeks
    are ("completed": 39 and some days; "exact": 39+0; "": not said). ``extensions``: column ->
    address of an extension of Patient that holds it.
    """

    resources: Mapping[str, str]
    codes: Codes
    record_id: str = "id"
    mother: str = ""
    weeks: str = ""
    extensions: Mapping[str, str] = field(default_factory=dict)


def read_fhir(where: str, spec: Mapping[str, Any], folder: Path, contract: Contract) -> Fhir:
    """Read ``[fhir]``. Raises DeclarationError naming the key where something cannot be meant."""
    refuse_unknown(where, spec, _KEYS)
    need(where, spec, "resources")
    patterns = spec.get("patterns", {})
    for name in (*spec["resources"], *patterns):
        if name not in TABLES:
            raise DeclarationError(f"{where}: '{name}' is not read.{nearest(name, TABLES)}")
    if "Patient" not in spec["resources"]:
        raise DeclarationError(f'{where}: resources must name "Patient"; births stand there.')
    weeks = spec.get("weeks", "")
    if weeks and weeks not in _WEEKS:
        raise DeclarationError(f"{where}: weeks is 'completed' or 'exact'.{nearest(weeks, _WEEKS)}")
    extensions = {
        _column(where, name, contract): str(url) for name, url in spec.get("extensions", {}).items()
    }
    own = [folder / spec["codes"]] if "codes" in spec else []
    return Fhir(
        # A dot, a dash or an underscore after the type: no MedicationRequest as Medication.
        {name: patterns.get(name, f"{name}[._-]*ndjson*") for name in spec["resources"]},
        read_codes([SHIPPED, *own], contract),
        spec.get("record_id", "id"),
        spec.get("mother", ""),
        weeks,
        extensions,
    )


def read_codes(paths: Sequence[Path], contract: Contract) -> Codes:
    """Read files of codes, a later one over those before.

    Raises DeclarationError for a system without an address, a column or word that the contract
    does not have.
    """
    systems: dict[str, str] = {}
    meanings: dict[tuple[str, str], Meaning] = {}
    spelt: dict[str, str] = {}
    for path in paths:
        spec = _read_toml(path)
        refuse_unknown(path.name, spec, {"sources", "systems", "codes"})
        systems |= spec.get("systems", {})
        for name, table in spec.get("codes", {}).items():
            if name not in systems:
                raise DeclarationError(
                    f"{path.name}: [codes.{name}] has no address; write it under [systems]."
                    f"{nearest(name, systems)}"
                )
            for code, given in table.items():
                where = f"{path.name} [codes.{name}] '{code}'"
                one = _meaning(where, given, spec.get("sources", {}), contract)
                meanings[systems[name], code] = one
                spelt |= {word.casefold(): one.unit for word in given.get("spelt", ())}
    return Codes(meanings, {uri: name for name, uri in systems.items()}, spelt, contract)


def _read_toml(path: Path) -> dict[str, Any]:
    if not path.is_file():
        raise DeclarationError(
            f"{path.name}: there is no such file of codes; put it beside the unit's file."
        )
    return read_toml(path.name, path)


def _meaning(
    where: str, given: Mapping[str, Any], sources: Mapping[str, str], contract: Contract
) -> Meaning:
    refuse_unknown(where, given, _MEANING | {"source"})
    need(where, given, "name", "source")
    if sources and given["source"] not in sources:
        raise DeclarationError(
            f"{where}: source '{given['source']}' is not under [sources]."
            f"{nearest(given['source'], sources)}"
        )
    for column, word in given.get("says", {}).items():
        _check_word(where, column, word, contract)
    columns = {
        key: _column(where, given[key], contract)
        for key in ("value", "mother", "at", "until")
        if key in given
    }
    keep = given.get("keep", "first")
    if keep not in {"first", "last"}:
        raise DeclarationError(f"{where}: keep is 'first' or 'last'.")
    return Meaning(says=given.get("says", {}), keep=keep, unit=given.get("unit", ""), **columns)


def _column(where: str, name: str, contract: Contract) -> str:
    """Return a column written ``table.column``. Raises DeclarationError where there is none."""
    table, _, column = name.partition(".")
    if table not in contract:
        raise DeclarationError(f"{where}: '{name}' is no table.column.{nearest(table, contract)}")
    if column not in contract[table].columns:
        raise DeclarationError(
            f"{where}: table '{table}' has no column '{column}'."
            f"{nearest(column, contract[table].columns)}"
        )
    return name


def _check_word(where: str, name: str, word: str, contract: Contract) -> None:
    table, _, column = _column(where, name, contract).partition(".")
    held = contract[table].columns[column]
    if held.type == "code" and word not in held.allowed:
        raise DeclarationError(
            f"{where}: '{word}' is not allowed for {name}.{nearest(word, held.allowed)}"
        )


def fhir_files(fhir: Fhir, contract: Contract) -> list[dict[str, Any]]:
    """Return the ``[[files]]`` of a FHIR export, as a unit's file would write them."""
    return [
        {
            "pattern": pattern,
            "format": "fhir",
            "takes": [
                {"table": name, "columns": _sources(contract[name])} for name in TABLES[resource]
            ],
        }
        for resource, pattern in fhir.resources.items()
    ]


def _sources(table: Table) -> dict[str, Any]:
    sources: dict[str, Any] = {"record_id": "record"}
    for column in table.columns.values():
        name = f"{table.name}.{column.name}"
        if column.name == "record_id" or column.name in _DERIVED:
            continue
        if is_measured(table, column.name):
            sources[column.name] = {"from": name, "unit_from": f"{name}.unit"}
        else:
            sources[column.name] = name
    return sources


def is_measured(table: Table, name: str) -> bool:
    """Whether a column's number means nothing without its unit of measurement."""
    column = table.columns[name]
    if name == "value":
        return bool(table.kinds)
    return column.type in {"integer", "decimal"} and column.unit not in {None, "{score}", "h"}
