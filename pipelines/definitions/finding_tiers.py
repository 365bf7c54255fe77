"""How urgent an unexpected finding is: the starter list, overridden by each unit's own."""

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import duckdb

from pipelines.base.errors import DeclarationError
from pipelines.base.insert_rows import insert_rows
from pipelines.definitions.read_units import Unit
from pipelines.definitions.spec_checks import as_date, refuse_unknown

FINDINGS_FILE = Path(__file__).parent / "findings.toml"
TIERS = (0, 1, 2, 3)  # 0: looked at, never escalated
ANY_DETAIL = ""
_KEYS = {"approved_by", "approved_on", "tiers"}


@cache
def starter_tiers() -> Mapping[str, Mapping[str, int]]:
    """Return kind -> detail -> tier of the shipped list; detail '' holds for any."""
    spec = tomllib.loads(FINDINGS_FILE.read_text(encoding="utf-8"))
    return _tiers(FINDINGS_FILE.name, spec["tiers"])


def _tiers(where: str, given: Mapping[str, Any]) -> dict[str, dict[str, int]]:
    found: dict[str, dict[str, int]] = {}
    for kind, value in given.items():
        details = value if isinstance(value, Mapping) else {ANY_DETAIL: value}
        for detail, tier in details.items():
            if isinstance(tier, bool) or tier not in TIERS:
                spot = f"{kind} '{detail}'" if detail else kind
                raise DeclarationError(
                    f"{where} [tiers] {spot}: the tier must be 1, 2 or 3, or 0 for none."
                )
        found[kind] = {_folded(detail): int(tier) for detail, tier in details.items()}
    return found


def _folded(text: str) -> str:
    return text.strip().lower()  # as mart.event does: a sharp s stays one letter


def unit_tiers(unit: Unit) -> list[list[object]]:
    """Return rows of unit, kind, detail, tier, is_starter, approved_by, approved_on.

    Raises DeclarationError naming the unit file and the key.
    """
    where = f"{unit.file_name} [findings]"
    refuse_unknown(where, unit.findings, _KEYS)
    by, on = unit.findings.get("approved_by"), unit.findings.get("approved_on")
    if on is not None:
        as_date(f"{where} approved_on", on)
    own = _tiers(where, unit.findings.get("tiers", {}))
    return [
        [unit.id, kind, detail, tier, kind not in own, by, on]
        for kind, details in {**starter_tiers(), **own}.items()
        for detail, tier in details.items()
    ]


def fill_tiers(connection: duckdb.DuckDBPyConnection, units: Sequence[Unit]) -> None:
    """Create ``typed.finding_tier``, one row per unit, kind and detail."""
    connection.execute(
        "create table typed.finding_tier (unit varchar, kind varchar, detail varchar, "
        "tier integer, is_starter boolean, approved_by varchar, approved_on date)"
    )
    rows = [row for unit in units for row in unit_tiers(unit)]
    insert_rows(connection, "typed.finding_tier", rows)
