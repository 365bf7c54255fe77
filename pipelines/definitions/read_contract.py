"""The contract: what each canonical table holds, declared once in ``contract/*.toml``.

Casts, checks, the dictionary and the synthetic data all derive from what is read here.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.measuring_units import Conversion, conversion, conversions

CONTRACT_DIR = Path(__file__).parent / "contract"

# Canonical type -> DuckDB type of the typed column.
DUCKDB_TYPES = {
    "text": "varchar",
    "code": "varchar",
    "category": "varchar",
    "integer": "integer",
    "decimal": "double",
    "boolean": "boolean",
    "month": "date",
    "minutes": "double",
    "instant": "timestamptz",
}
TABLE_ORDER = ("admission", "observation", "dose", "care", "finding")


@dataclass(frozen=True)
class Limits:
    """Bounds of a value in its canonical unit; ``None`` means no bound.

    Outside the error bounds the value is unusable; outside the query bounds it is
    kept and listed. A value that equals a bound is inside.
    """

    error_below: float | None = None
    error_above: float | None = None
    query_below: float | None = None
    query_above: float | None = None

    @property
    def any(self) -> bool:
        return any(
            bound is not None
            for bound in (self.error_below, self.error_above, self.query_below, self.query_above)
        )


@dataclass(frozen=True)
class Column:
    """One column of a canonical table."""

    name: str
    type: str
    description: str
    unit: str | None = None
    decimals: int | None = None
    required: bool = False
    before_birth: bool = False
    before_birth_kinds: tuple[str, ...] = ()
    after_leaving_kinds: tuple[str, ...] = ()
    before_birth_within: Mapping[str, float] = field(default_factory=dict)
    before_birth_statuses: Mapping[str, float] = field(default_factory=dict)
    allowed: Mapping[str, str] = field(default_factory=dict)
    limits: Limits = Limits()

    @property
    def duckdb_type(self) -> str:
        return DUCKDB_TYPES[self.type]

    @property
    def is_time(self) -> bool:
        """Whether the recorded text is a time, so that it is never repeated verbatim."""
        return self.type in {"minutes", "instant", "month"}


@dataclass(frozen=True)
class Kind:
    """What ``value`` means for one kind of a long table: its unit, limits and conversions."""

    name: str
    unit: str
    limits: Limits
    substance: str | None = None  # whose molar mass brings a molar unit to ``unit``

    @property
    def conversions(self) -> dict[str, Conversion]:
        """How a value in each unit that this kind is read in is brought to ``unit``."""
        return conversions(self.unit, self.substance)

    def conversion(self, where: str, recorded: str) -> Conversion:
        """Return how to bring ``recorded`` to ``unit``; DeclarationError where it cannot be."""
        return conversion(where, self.unit, recorded, self.substance)


@dataclass(frozen=True)
class Table:
    """One canonical table."""

    name: str
    title: str
    grain: str
    description: str
    columns: Mapping[str, Column]
    kinds: Mapping[str, Kind]

    @property
    def is_event(self) -> bool:
        return "kind" in self.columns

    @property
    def stored_columns(self) -> list[Column]:
        """Columns kept in the store: all but the birth time, which only anchors the minutes."""
        return [column for column in self.columns.values() if column.type != "instant"]

    @property
    def raw_columns(self) -> list[str]:
        """Columns of the table's text; a reading has beside it the unit that its row states."""
        return [*self.columns, *(["stated_unit"] if self.kinds else [])]


Contract = Mapping[str, Table]

_COLUMN_KEYS = {
    "type",
    "description",
    "unit",
    "decimals",
    "required",
    "before_birth",
    "before_birth_kinds",
    "after_leaving_kinds",
    "before_birth_within",
    "before_birth_statuses",
    "allowed",
    "error_below",
    "error_above",
    "query_below",
    "query_above",
}
LIMIT_KEYS = ("error_below", "error_above", "query_below", "query_above")
_TABLE_KEYS = {"title", "grain", "description", "columns", "kinds"}


def read_limits(spec: Mapping[str, Any]) -> Limits:
    return Limits(**{key: float(spec[key]) for key in LIMIT_KEYS if key in spec})


def refuse_unknown(where: str, given: Mapping[str, Any], known: set[str]) -> None:
    for key in given:
        if key not in known:
            raise DeclarationError(f"{where}: key '{key}' is not known.{nearest(key, known)}")


def read_column(where: str, name: str, spec: Mapping[str, Any]) -> Column:
    refuse_unknown(where, spec, _COLUMN_KEYS)
    for key in ("type", "description"):
        if key not in spec:
            raise DeclarationError(f"{where}: key '{key}' is missing; add it.")
    if spec["type"] not in DUCKDB_TYPES:
        raise DeclarationError(
            f"{where}: type '{spec['type']}' is not known.{nearest(spec['type'], DUCKDB_TYPES)}"
        )
    plain: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value
        for key, value in spec.items()
        if key not in LIMIT_KEYS
    }
    return Column(name=name, limits=read_limits(spec), **plain)


def read_table(path: Path) -> Table:
    """Read one contract file.

    Raises DeclarationError naming file and key where the file says something unknown.
    """
    spec = tomllib.loads(path.read_text(encoding="utf-8"))
    where = f"contract/{path.name}"
    refuse_unknown(where, spec, _TABLE_KEYS)
    columns = {
        name: read_column(f"{where} [columns.{name}]", name, column)
        for name, column in spec["columns"].items()
    }
    kinds = {
        name: Kind(name, kind["unit"], read_limits(kind), kind.get("substance"))
        for name, kind in spec.get("kinds", {}).items()
    }
    return Table(path.stem, spec["title"], spec["grain"], spec["description"], columns, kinds)


@cache
def read_contract() -> Contract:
    """Return every canonical table by name, in the order in which a newborn's day goes."""
    tables = {path.stem: read_table(path) for path in CONTRACT_DIR.glob("*.toml")}
    order = {name: place for place, name in enumerate(TABLE_ORDER)}
    return dict(sorted(tables.items(), key=lambda item: order.get(item[0], len(order))))
