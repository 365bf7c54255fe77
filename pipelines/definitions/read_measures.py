"""Measure files: one ``.sql`` each in ``measures/``, read and checked here.

What a header may say is in DEVELOPERS.md; a mistake names the file, the key and the nearest
valid name.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.headed_sql import HeadedSql, read_headed_sql, said
from pipelines.definitions.gravity import Gravity, read_gravity, states_of
from pipelines.definitions.own_files import OwnFile
from pipelines.definitions.owners import DUE, OWNERS, Owner, check_owner

MEASURES_DIR = Path(__file__).parent / "measures"
# What several measures read: one select each, a named table in front of a measure's own select.
SHARED_DIR = MEASURES_DIR / "shared"

GROUPS = (
    "warmth",
    "first observations",
    "measuring",
    "identity",
    "protection",
    "contact and feeding",
    "screening",
    "telling the provider",
    "leaving",
    "the other side",
    "the record",
)
# Kind -> what its rows are of, one by one and many. Where `item` is needed, a newborn may have
# several rows, and the select numbers them.
KINDS = {
    "proportion": ("newborn", "newborns"),
    "minutes": ("newborn", "newborns"),
    "descriptive": ("newborn", "newborns"),
    "bands": ("newborn", "newborns"),
    "episode": ("episode", "episodes"),
    "finding": ("finding", "findings"),
    "observation": ("observation", "observations"),
    "dose": ("dose", "doses"),
}
ITEM_KINDS = ("episode", "finding", "observation", "dose")
DIRECTIONS = ("higher", "lower", "neither")
# What becomes of the undocumented and unusable: against the rate, or out of it.
UNKNOWN_NOT_MET, UNKNOWN_LEFT_OUT = "not_met", "left_out"
MISSING = (UNKNOWN_NOT_MET, UNKNOWN_LEFT_OUT)
STATUSES = ("published", "published in part", "local")
WINDOW_KEYS = ("at_least", "at_most")
_NEEDED = {
    "title",
    "question",
    "group",
    "kind",
    "direction",
    "population",
    "numerator",
    "anchor",
    "owner",
    "missing",
    "sources",
    "version",
    "examples",
}
_KNOWN = _NEEDED | {
    "window",
    "window_status",
    "parameters",
    "arrived_before",
    "going_home",
    "population_needs",
    "exclude",
    "exceptions",
    "target",
    "disagreement",
    "documentation_trap",
    "caution",
    "balancing",
    "look_at",
    "also_called",
    "listed",
    "history",
    "bands",
    "follows",
    "headline_when",
    "gravity",
    "value_unit",
}
_PART_KEYS = {
    "bands": ({"id", "title"}, {"at_least", "below", "unit"}),
    "history": ({"version", "on", "what"}, set()),
    "examples": ({"because", "given", "expect"}, {"policy"}),
}


@dataclass(frozen=True)
class Band:
    """One band of a measured value; a bound that is None is open."""

    id: str
    title: str
    at_least: float | None
    below: float | None
    unit: str = "°C"


@dataclass(frozen=True)
class Measure:
    """One measure file."""

    id: str
    source: HeadedSql
    bands: tuple[Band, ...] = field(default=())
    # The units whose own it is; a shipped measure is everyone's and names none.
    units: tuple[str, ...] = ()

    def is_for(self, unit: str) -> bool:
        return not self.units or unit in self.units

    def get(self, key: str, default: Any = None) -> Any:
        return self.source.header.get(key, default)

    def text(self, key: str) -> str:
        return " ".join(str(self.get(key, "")).split())

    @property
    def where(self) -> str:
        return said(self.source.path)

    @cached_property
    def sql(self) -> str:
        """The measure's select, with the shared facts that it reads in front of it."""
        return with_shared(self.source.sql)

    @property
    def kind(self) -> str:
        return str(self.get("kind"))

    @property
    def window(self) -> Mapping[str, float]:
        return dict(self.get("window", {}))

    @property
    def parameters(self) -> Mapping[str, float | bool | str]:
        return dict(self.get("parameters", {}))

    @property
    def exclude(self) -> tuple[str, ...]:
        """Standard exclusions beyond those that the owner implies."""
        return tuple(self.get("exclude", ()))

    @property
    def owner(self) -> Owner:
        return OWNERS[self.text("owner")]

    @property
    def going_home(self) -> str:
        """What going home does to an event that is not done yet: it was ``due``, or it ``ends``."""
        return str(self.get("going_home", DUE))

    @property
    def population_needs(self) -> Sequence[str]:
        """Columns (``admission.x``) that decide whom it is about: without one nobody can say."""
        return list(dict.fromkeys([*self.get("population_needs", ()), *self.owner.needs]))

    @property
    def follows(self) -> Mapping[str, str]:
        """Parameter -> the measure whose policy sets it, so that a unit says it once."""
        return dict(self.get("follows", {}))

    @cached_property
    def numbers(self) -> dict[str, float | bool | str | None]:
        """Everything a unit may set for this measure, with its default."""
        window = {key: self.window.get(key) for key in WINDOW_KEYS}
        # One target cannot serve several bands, so a file of bands has none.
        target = {} if self.bands else {"target": self.get("target")}
        listed = bool(self.get("listed", True))
        name = "arrived_before"
        arrival = {name: float(self.get(name))} if name in self.source.header else {}
        engine = {"applies": True, "listed": listed, **arrival}
        return {**window, **target, **engine, **self.parameters}

    @cached_property
    def gravity(self) -> Gravity:
        """How grave a miss is, by the header. Raises DeclarationError naming file and key."""
        bands = [band.id for band in self.bands]
        states = states_of(self.text("direction"))
        return read_gravity(f"{self.where}: [gravity]", self.get("gravity"), bands, states)

    @property
    def result_ids(self) -> list[str]:
        """The measure ids that appear in the results: one, or one for each band."""
        return [f"{self.id}_{band.id}" for band in self.bands] or [self.id]

    @property
    def examples(self) -> Sequence[Mapping[str, Any]]:
        return list(self.get("examples", ()))


@cache
def shared_facts() -> dict[str, str]:
    """Return every select in ``measures/shared`` by its name, without its comment."""
    return {
        path.stem: re.sub(r"^--.*\n", "", path.read_text(encoding="utf-8"), flags=re.M).strip()
        for path in sorted(SHARED_DIR.glob("*.sql"))
    }


def shared_read(sql: str) -> list[str]:
    """Return the shared facts that a select reads, itself or through another, each after those
    that it reads.
    """
    read: list[str] = []
    for name in re.findall(r"\b(?:from|join)\s+(\w+)\b(?!\.)", sql):
        if name in shared_facts() and name not in read:
            read += [one for one in shared_read(shared_facts()[name]) if one not in read]
            read.append(name)
    return read


def with_shared(sql: str) -> str:
    """Put the shared facts that a select reads in front of it; it stays one select."""
    facts = ",\n\n".join(f"{name} as (\n{shared_facts()[name]}\n)" for name in shared_read(sql))
    if not facts:
        return sql
    own = re.sub(r"^(?:--.*\n|\s)*with\s+", "", sql)
    return f"with {facts}{',' if own != sql else ''}\n\n{own}"


def _one_of(where: str, key: str, value: Any, allowed: Iterable[str]) -> None:
    if value not in allowed:
        raise DeclarationError(
            f"{where}: {key} '{value}' is not known.{nearest(str(value), allowed)}"
        )


def _check(measure: Measure) -> None:
    where = measure.where
    _one_of(where, "group", measure.get("group"), GROUPS)
    _one_of(where, "kind", measure.kind, KINDS)
    _one_of(where, "direction", measure.get("direction"), DIRECTIONS)
    _one_of(where, "missing", measure.get("missing"), MISSING)
    if "window" in measure.source.header:
        _one_of(where, "window_status", measure.get("window_status"), STATUSES)
    check_owner(where, measure.source.header)
    for key in measure.window:
        _one_of(where, "window", key, WINDOW_KEYS)
    _check_kind(measure)
    measure.gravity  # noqa: B018  reading it checks it
    if not isinstance(measure.get("look_at", []), list):
        raise DeclarationError(f'{where}: look_at must be a list, such as ["dose: time, route"].')
    called = measure.get("also_called", [])
    if not isinstance(called, list) or not all(isinstance(one, str) and one for one in called):
        raise DeclarationError(f'{where}: also_called must be a list, such as ["hypothermia"].')
    if not isinstance(measure.get("listed", True), bool):
        raise DeclarationError(
            f"{where}: listed must be true (a miss puts the newborn on the worklist) or false "
            "(it is a matter for the unit)."
        )
    engine = {*WINDOW_KEYS, "target", "applies", "listed", "arrived_before"}
    taken = set(measure.parameters) & engine
    if taken:
        raise DeclarationError(
            f"{where}: parameter '{min(taken)}' is the engine's own; choose another name."
        )
    for name in measure.parameters:
        read = name in measure.get("headline_when", {}) or re.search(rf"\b{name}\b", measure.sql)
        if not read:
            raise DeclarationError(f"{where}: parameters '{name}' is read nowhere in the select.")
    for key in ("follows", "headline_when"):
        for name in measure.get(key, {}):
            _one_of(where, key, name, list(measure.numbers))


def _check_kind(measure: Measure) -> None:
    where = measure.where
    if (measure.kind == "bands") != bool(measure.bands):
        raise DeclarationError(f"{where}: [[bands]] goes with kind = 'bands', and only with it.")
    if measure.kind == "minutes" and measure.window:
        raise DeclarationError(
            f"{where}: window: kind = 'minutes' shows how long it took and has no window; "
            "take it out, or choose kind = 'proportion'."
        )
    if measure.kind == "descriptive" and measure.get("direction") != "neither":
        raise DeclarationError(
            f"{where}: direction: kind = 'descriptive' judges nothing; write 'neither'."
        )


def _check_parts(where: str, header: Mapping[str, Any]) -> None:
    """The tables of a list, such as [[examples]], have the keys they need and no other."""
    for part, (needed, more) in _PART_KEYS.items():
        for place, given in enumerate(header.get(part, ()), start=1):
            spot = f"{where}: [[{part}]] {place}"
            for key in given:
                if key not in needed | more:
                    raise DeclarationError(
                        f"{spot}: key '{key}' is not known.{nearest(key, needed | more)}"
                    )
            for key in sorted(needed - set(given)):
                raise DeclarationError(f"{spot}: key '{key}' is missing; add it.")


def read_measure(path: Path) -> Measure:
    """Read and check one measure file.

    Raises DeclarationError naming file and key.
    """
    source = read_headed_sql(path, _KNOWN, _NEEDED)
    _check_parts(said(path), source.header)
    bands = tuple(
        Band(
            band["id"],
            band["title"],
            band.get("at_least"),
            band.get("below"),
            band.get("unit", "°C"),
        )
        for band in source.header.get("bands", ())
    )
    measure = Measure(path.stem, source, bands)
    _check(measure)
    return measure


def refuse_no_measure(where: str, name: str, measures: Mapping[str, Measure]) -> None:
    """Raise DeclarationError where a name is neither a measure nor a band, with the nearest."""
    known = {*measures, *(one for measure in measures.values() for one in measure.result_ids)}
    if name not in known:
        raise DeclarationError(f"{where}: '{name}' is not a measure.{nearest(name, known)}")


def read_measures(folder: Path = MEASURES_DIR, own: Sequence[OwnFile] = ()) -> dict[str, Measure]:
    """Return every measure by id, in the order of the nurse's work, then by title.

    ``own`` are the files of units' own. Raises DeclarationError where a file is wrong, names a
    balancing measure that is not there, or is a unit's own under the name of a shipped one.
    """
    found = [read_measure(path) for path in sorted(folder.glob("*.sql"))]
    found += [replace(read_measure(file.path), units=file.units) for file in own]
    _refuse_taken(found)
    found.sort(key=lambda one: (GROUPS.index(str(one.get("group"))), one.text("title")))
    measures = {measure.id: measure for measure in found}
    known = {*measures, *(one for measure in found for one in measure.result_ids)}
    for measure in found:
        for name in measure.get("balancing", ()):
            if name not in known:
                raise DeclarationError(
                    f"{measure.where}: balancing '{name}' is not a measure.{nearest(name, known)}"
                )
        _check_follows(measure, measures)
    return measures


def _refuse_taken(measures: Iterable[Measure]) -> None:
    taken: dict[str, str] = {}
    for measure in measures:
        for name in {measure.id, *measure.result_ids}:
            before = taken.setdefault(name, measure.where)
            if before != measure.where:
                raise DeclarationError(
                    f"{measure.where}: there is a measure '{name}' already ({before}). A unit adds "
                    "measures and changes none; its numbers are set under [[policy]]. Choose "
                    "another name."
                )


def _check_follows(measure: Measure, measures: Mapping[str, Measure]) -> None:
    for name, other in measure.follows.items():
        if other not in measures:
            raise DeclarationError(
                f"{measure.where}: follows '{other}' is not a measure.{nearest(other, measures)}"
            )
        leads = measures[other].numbers
        if name not in leads:
            raise DeclarationError(
                f"{measure.where}: follows: '{other}' has no parameter '{name}'."
                f"{nearest(name, leads)}"
            )
        if leads[name] != measure.numbers[name]:
            raise DeclarationError(
                f"{measure.where}: parameters '{name}' must be {leads[name]}, as in {other}."
            )
