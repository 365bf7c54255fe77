"""Rules across columns: ``rules/<rule_id>.sql`` read into checks.

A file is a TOML header, worked examples and one select over ``typed.*``. The select may also
read ``rule_setting`` (one row per unit: ``unit`` and the header's parameters, as the unit set
them) and the working tables of ``expectations.prepare``.
"""

import graphlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from expectations.check import Check, Number
from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.headed_sql import read_headed_sql, read_pipe_table, said
from pipelines.definitions.own_files import OwnFile
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.states import SEVERITIES

RULES_DIR = Path(__file__).parent / "rules"
_NEEDED = {"title", "table", "severity", "explanation", "examples"}
_KNOWN = _NEEDED | {
    "parameters",
    "gives_way_to",
    "gives_way_to_causes",
    "whole_column",
    "sources",
}
_EXAMPLE_KEYS = {"because", "given", "text", "expect", "numbers"}
Cells = list[dict[str, str | None]]


@dataclass(frozen=True)
class Example:
    """One worked example: rows in, flags out. The same text is test and documentation.

    ``text`` says, by record and table, what the export wrote, where a rule asks for it.
    """

    because: str
    given: Mapping[str, Cells]
    text: Mapping[str, Cells]
    expect: Cells
    numbers: Mapping[str, Number]


@dataclass(frozen=True)
class Rule:
    """One rule file; where it speaks of several tables, its select gives ``table_name``."""

    id: str
    title: str
    tables: tuple[str, ...]
    severity: str
    explanation: str
    sql: str
    parameters: Mapping[str, Number]
    gives_way_to: tuple[str, ...]
    gives_way_to_causes: bool
    is_whole_column: bool
    sources: tuple[str, ...]
    examples: tuple[Example, ...]

    @property
    def table(self) -> str:
        """The table in words: several stand beside one another."""
        return ", ".join(self.tables)

    def checks(
        self, numbers: Mapping[str, Mapping[str, Number]], off: tuple[str, ...]
    ) -> list[Check]:
        """Return one check per table; ``numbers`` overrides parameters by unit, ``off`` names
        units."""
        return [self._check(table, numbers, off) for table in self.tables]

    def _select(self, table: str) -> str:
        if len(self.tables) == 1:
            return self.sql
        return f"select * exclude (table_name) from ({self.sql}\n) where table_name = '{table}'"

    def _check(
        self, table: str, numbers: Mapping[str, Mapping[str, Number]], off: tuple[str, ...]
    ) -> Check:
        return Check(
            self.id,
            table,
            self.title,
            self.severity,
            self.explanation,
            self._select(table),
            gives_way_to=self.gives_way_to,
            gives_way_to_causes=self.gives_way_to_causes,
            is_whole_column=self.is_whole_column,
            off_units=off,
            parameters=self.parameters,
            numbers={unit: {**self.parameters, **own} for unit, own in numbers.items()},
        )


def read_rule(path: Path) -> Rule:
    """Read one rule file.

    Raises DeclarationError naming file and key where the header says something unknown.
    """
    headed = read_headed_sql(path, _KNOWN, _NEEDED)
    header, where = headed.header, said(path)
    given = header["table"]
    tables = (given,) if isinstance(given, str) else tuple(given)
    for table in tables:
        _refuse(where, "table", table, read_contract())
    _refuse(where, "severity", header["severity"], SEVERITIES)
    return Rule(
        id=path.stem,
        title=header["title"],
        tables=tables,
        severity=header["severity"],
        explanation=header["explanation"].strip(),
        sql=headed.sql,
        parameters=header.get("parameters", {}),
        gives_way_to=tuple(header.get("gives_way_to", ())),
        gives_way_to_causes=header.get("gives_way_to_causes", False),
        is_whole_column=header.get("whole_column", False),
        sources=tuple(header.get("sources", ())),
        examples=tuple(_example(where, spec) for spec in header["examples"]),
    )


def _refuse(where: str, key: str, value: str, known: Any) -> None:
    if value not in known:
        raise DeclarationError(f"{where}: {key} '{value}' is not known.{nearest(value, known)}")


def _example(where: str, spec: Mapping[str, Any]) -> Example:
    for key in spec:
        _refuse(where, "key of [[examples]]", key, _EXAMPLE_KEYS)
    for key in ("because", "given", "expect"):
        if key not in spec:
            raise DeclarationError(f"{where}: an example has no '{key}'; add it.")
    for table in (*spec["given"], *spec.get("text", {})):
        _refuse(where, "table of an example", table, read_contract())
    return Example(
        because=spec["because"],
        given={table: read_pipe_table(text) for table, text in spec["given"].items()},
        text={table: read_pipe_table(text) for table, text in spec.get("text", {}).items()},
        expect=read_pipe_table(spec["expect"]),
        numbers=spec.get("numbers", {}),
    )


def read_rules(folder: Path = RULES_DIR, own: Sequence[OwnFile] = ()) -> dict[str, Rule]:
    """Return every rule by id, each after the rules it gives way to; ``own`` are units' own.

    A rule with ``gives_way_to_causes`` stands after all that have it not.

    Raises DeclarationError where a rule gives way to one that is not there, to one of another
    table, or in a circle.
    """
    paths = [*sorted(folder.glob("*.sql")), *(file.path for file in own)]
    rules = {path.stem: read_rule(path) for path in paths}
    for path in paths:
        rule, where = rules[path.stem], said(path)
        of_table = [other.id for other in rules.values() if other.table == rule.table]
        for other in rule.gives_way_to:
            _refuse(where, "gives_way_to", other, of_table)
    causes = [rule.id for rule in rules.values() if not rule.gives_way_to_causes]
    after = {
        rule.id: (*rule.gives_way_to, *(causes if rule.gives_way_to_causes else ()))
        for rule in rules.values()
    }
    try:
        order = graphlib.TopologicalSorter(after)
        return {rule_id: rules[rule_id] for rule_id in order.static_order()}
    except graphlib.CycleError as error:
        circle = ", ".join(error.args[1])
        raise DeclarationError(
            f"{folder.name}: gives_way_to goes in a circle: {circle}; take one out."
        ) from None
