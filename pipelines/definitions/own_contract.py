"""A unit's own columns and kinds: ``contract/<table>.toml`` in its folder, added to the contract.

Only additions: what is shipped keeps its meaning everywhere, so that measures, rules and other
units can rely on it.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.headed_sql import said
from pipelines.base.measuring_units import CONVERSIONS, MOLAR
from pipelines.definitions.own_files import own_files
from pipelines.definitions.read_contract import (
    LIMIT_KEYS,
    Column,
    Contract,
    Kind,
    Table,
    read_column,
    read_contract,
    read_limits,
    refuse_unknown,
)
from pipelines.definitions.spec_checks import read_toml

_NAME: Final = re.compile(r"[a-z][a-z0-9_]*")
# Names that the stages give beside the contract's: a column of a unit's own cannot have them.
RESERVED: Final = frozenset(
    {
        *("row_id", "newborn_id", "unit", "source_file", "source_line", "unreadable", "unmapped"),
        *("unusable", "is_usable", "event_id", "table_name", "value_unit", "tier", "birth_date"),
        "stated_unit",
        *("gestation_band", "weight_centile", "shift", "born_at", "file_index"),
    }
)


def with_own_columns(unit_file: Path | None) -> Contract:
    """Return the contract with what the folder beside a unit's file adds.

    Raises DeclarationError naming file and key where it redefines what is there, or says
    something that cannot be meant.
    """
    contract = dict(read_contract())
    for path in own_files(unit_file, "contract"):
        if path.stem not in contract:
            raise DeclarationError(
                f"{said(path)}: there is no table '{path.stem}'.{nearest(path.stem, contract)}"
            )
        contract[path.stem] = _added(path, contract[path.stem])
    _refuse_two_types(contract)
    return contract


def _added(path: Path, table: Table) -> Table:
    where = said(path)
    spec = read_toml(where, path)
    refuse_unknown(where, spec, {"columns", "kinds"})
    columns = dict(table.columns)
    for name, column in spec.get("columns", {}).items():
        columns[name] = _own_column(f"{where} [columns.{name}]", name, column)
    table = replace(table, columns=columns)
    for name, kind in spec.get("kinds", {}).items():
        table = _with_kind(f"{where} [kinds.{name}]", table, name, kind)
    return table


def _own_column(where: str, name: str, spec: Mapping[str, Any]) -> Column:
    _refuse_name(where, name)
    if any(name in table.columns for table in read_contract().values()):
        raise DeclarationError(
            f"{where}: the contract has a column '{name}' already; a unit adds columns and "
            "changes none. Choose another name."
        )
    if name in RESERVED:
        raise DeclarationError(f"{where}: the stages use the name '{name}'; choose another.")
    column = read_column(where, name, spec)
    if column.required:
        raise DeclarationError(f"{where}: required: no export can need a unit's own column.")
    if column.type == "instant":
        raise DeclarationError(f"{where}: type 'instant' is the birth time's; write 'minutes'.")
    if column.type == "code" and not column.allowed:
        raise DeclarationError(f"{where}: a code needs 'allowed': each code with its meaning.")
    _refuse_unit(where, column.unit)
    return column


def _with_kind(where: str, table: Table, name: str, spec: Mapping[str, Any]) -> Table:
    _refuse_name(where, name)
    if not table.is_event:
        raise DeclarationError(f"{where}: table '{table.name}' has no kinds; add a column.")
    allowed = table.columns["kind"].allowed
    if name in allowed:
        raise DeclarationError(
            f"{where}: the contract has a kind '{name}' already; a unit adds kinds and changes "
            "none. Choose another name."
        )
    has_value = bool(table.kinds)
    of_value = ("unit", "substance", *LIMIT_KEYS) if has_value else ()
    refuse_unknown(where, spec, {"description", *of_value})
    for key in ("description", *(("unit",) if has_value else ())):
        if key not in spec:
            raise DeclarationError(f"{where}: key '{key}' is missing; add it.")
    _refuse_unit(where, spec.get("unit"))
    _refuse_substance(where, spec.get("substance"))
    kinds = dict(table.kinds)
    if has_value:
        kinds[name] = Kind(name, spec["unit"], read_limits(spec), spec.get("substance"))
    kind = replace(table.columns["kind"], allowed={**allowed, name: spec["description"]})
    return replace(table, kinds=kinds, columns={**table.columns, "kind": kind})


def _refuse_name(where: str, name: str) -> None:
    if not _NAME.fullmatch(name):
        raise DeclarationError(
            f"{where}: '{name}' must be lower-case letters, digits, underscores."
        )


def _refuse_unit(where: str, unit: str | None) -> None:
    if unit is not None and unit not in CONVERSIONS:
        raise DeclarationError(
            f"{where}: unit '{unit}' is not one of the canonical units.{nearest(unit, CONVERSIONS)}"
        )


def _refuse_substance(where: str, substance: str | None) -> None:
    if substance is not None and substance not in MOLAR:
        raise DeclarationError(
            f"{where}: of the substance '{substance}' no molar mass is known."
            f"{nearest(substance, MOLAR)}"
        )


def all_together(contracts: Iterable[tuple[str, Contract]]) -> Contract:
    """Return one contract with what each unit adds; ``contracts`` are (unit, its contract).

    Raises DeclarationError where two units mean different things by one name.
    """
    every = dict(read_contract())
    first: dict[tuple[str, str], str] = {}
    for unit, contract in contracts:
        for name, table in contract.items():
            every[name] = _joined(every[name], table, unit, first)
    _refuse_two_types(every)
    return every


def _joined(every: Table, own: Table, unit: str, first: dict[tuple[str, str], str]) -> Table:
    columns, kinds = dict(every.columns), dict(every.kinds)
    for name, column in own.columns.items():
        same = name == "kind" or columns.get(name, column) == column
        _refuse_other(same, f"{own.name}.{name}", unit, first.setdefault((own.name, name), unit))
        columns.setdefault(name, column)
    if own.is_event:
        allowed = dict(columns["kind"].allowed)
        for name, words in own.columns["kind"].allowed.items():
            same = allowed.get(name, words) == words
            same = same and kinds.get(name, own.kinds.get(name)) == own.kinds.get(name)
            key = (own.name, f"kind {name}")
            _refuse_other(same, f"{own.name}, kind '{name}'", unit, first.setdefault(key, unit))
            allowed[name] = words
        columns["kind"] = replace(columns["kind"], allowed=allowed)
    return replace(every, columns=columns, kinds={**kinds, **own.kinds})


def _refuse_other(is_same: bool, what: str, unit: str, before: str) -> None:
    if not is_same:
        raise DeclarationError(
            f"units '{before}' and '{unit}' both add {what} and mean different things by it; "
            "give one of them another name, or make them the same."
        )


def _refuse_two_types(contract: Contract) -> None:
    """``mart.event`` has the columns of all event tables, so one name has one type in them."""
    types: dict[str, tuple[str, str]] = {}
    for table in contract.values():
        for column in table.columns.values() if table.is_event else ():
            before, kind = types.setdefault(column.name, (table.name, column.duckdb_type))
            if kind != column.duckdb_type:
                raise DeclarationError(
                    f"column '{column.name}' has one type in {before} and another in "
                    f"{table.name}; give one of them another name."
                )
