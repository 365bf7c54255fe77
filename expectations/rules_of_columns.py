"""Rules about whole columns, shifts and months: ``column_rules/<rule_id>.sql`` read and run.

They look at ``judged.completeness`` and so run after every value is judged. What they find is a
flag without a record. A file is a TOML header, worked examples and one select over
``judged.completeness``, ``column_history`` (the same with what was usual before) and
``rule_setting``; it returns ``unit``, ``table_name``, ``column_name``, ``explanation`` and
optionally ``severity``.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd

from expectations.check import Check, Number, find
from expectations.prepare import Settings, units_of
from expectations.verdict import Verdict, store_verdict
from pipelines.base.headed_sql import HeadedSql, read_headed_sql, read_pipe_table
from pipelines.base.sql import fixed_sql, quote
from pipelines.definitions.own_files import OwnFile
from pipelines.definitions.read_contract import Contract, read_contract
from pipelines.stages.judged import masks
from pipelines.stages.typed.tables import create_typed_tables

COLUMN_RULES_DIR = Path(__file__).parent / "column_rules"
_NEEDED = {"title", "severity", "explanation", "suggestion", "parameters", "sources", "examples"}
EXAMPLE_UNIT = "example_unit"
_COMPLETENESS = (
    *(f"{name} varchar" for name in ("unit", "table_name", "kind", "column_name", "shift")),
    "month date",
    *(f"{name} bigint" for name in ("newborns", "total", "recorded", "usable")),
)
PolicyStarts = Sequence[tuple[str, str, str]]


@dataclass(frozen=True)
class ColumnRule:
    """One rule file; ``tables`` are those it can flag (all, where the header names none)."""

    id: str
    headed: HeadedSql

    @property
    def parameters(self) -> Mapping[str, Number]:
        found: Mapping[str, Number] = self.headed.header["parameters"]
        return found

    @property
    def tables(self) -> list[str]:
        return list(self.headed.header.get("tables", read_contract()))

    @property
    def examples(self) -> list[Mapping[str, Any]]:
        return list(self.headed.header["examples"])

    def text(self, key: str) -> str:
        return " ".join(str(self.headed.header[key]).split())

    def checks(
        self, numbers: Mapping[str, Mapping[str, Number]], off: tuple[str, ...]
    ) -> Iterator[Check]:
        """Yield one check per table, so that each stands in the suite of its table.

        A flag says what was found, then what that probably means.
        """
        for table in self.tables:
            yield Check(
                self.id,
                table,
                self.text("title"),
                self.text("severity"),
                self.text("explanation"),
                self._select(table),
                is_whole_column=True,
                off_units=off,
                parameters=self.parameters,
                numbers={unit: {**self.parameters, **own} for unit, own in numbers.items()},
            )

    def _select(self, table: str) -> str:
        return f"""
        select
            broken.* exclude (table_name) replace (
                explanation || {quote(" " + self.text("explanation"))} as explanation
            ),
            source_file,
            {quote(self.text("suggestion"))} as suggestion,
        from ({self.headed.sql}) as broken
        left join one_file using (unit, table_name, column_name)
        where table_name = {quote(table)}
        """


def read_column_rules(
    folder: Path = COLUMN_RULES_DIR, own: Sequence[OwnFile] = ()
) -> dict[str, ColumnRule]:
    """Return every rule about columns by id; ``own`` are units' own.

    Raises DeclarationError naming file and key where a header says something unknown.
    """
    return {
        path.stem: ColumnRule(path.stem, read_headed_sql(path, _NEEDED | {"tables"}, _NEEDED))
        for path in [*sorted(folder.glob("*.sql")), *(file.path for file in own)]
    }


def split_settings(
    settings: Settings, own: Sequence[OwnFile] = ()
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the settings of the rules about values, and of those about columns."""
    known = read_column_rules(own=own)
    of_values: dict[str, Any] = {}
    of_columns: dict[str, Any] = {}
    for unit, set_by_unit in settings.items():
        off, numbers = set_by_unit.get("off", ()), set_by_unit.get("numbers", {})
        of_values[unit] = {
            **set_by_unit,
            "off": [rule for rule in off if rule not in known],
            "numbers": {rule: one for rule, one in numbers.items() if rule not in known},
        }
        of_columns[unit] = {
            "off": [rule for rule in off if rule in known],
            "numbers": {rule: one for rule, one in numbers.items() if rule in known},
        }
    return of_values, of_columns


def _prepare(connection: duckdb.DuckDBPyConnection, policy_starts: PolicyStarts) -> None:
    """Make ``column_history`` and ``one_file`` (the one file a column comes from, if it is one)."""
    frame = pd.DataFrame(list(policy_starts), columns=["unit", "name", "start_on"], dtype="str")
    connection.register("policy_row", frame)
    connection.execute(
        "create or replace temp table policy_start as select unit, name, "
        "cast(start_on as date) as start_on from policy_row"
    )
    connection.unregister("policy_row")
    connection.execute(fixed_sql("stages/judged/column_history"))
    connection.execute(
        "create or replace temp table one_file as select unit, table_name, column_name, "
        "any_value(source_file) as source_file from typed.column_source group by all "
        "having count(distinct source_file) = 1"
    )


def judge_columns(
    connection: duckdb.DuckDBPyConnection,
    verdict: Verdict,
    settings: Settings | None = None,
    policy_starts: PolicyStarts = (),
    *,
    contract: Contract | None = None,
    own: Sequence[OwnFile] = (),
) -> Verdict:
    """Add the flags of the rules about columns to ``judged.flag``, their outcomes to the verdict.

    ``judged.completeness`` must be filled. ``verdict`` is that of the values; ``settings`` as in
    ``expectations.judge``; ``policy_starts`` from ``pipelines.completeness.policy_starts``;
    ``contract`` and ``own`` as there.
    Raises DeclarationError where a parameter of a rule is not known.
    """
    from expectations.judging import check_settings
    from expectations.suites import run_checks  # imports great_expectations: seconds

    rules = read_column_rules(own=own)
    check_settings(settings or {}, rules)  # type: ignore[arg-type]  # only ids and parameters
    _prepare(connection, policy_starts)
    connection.execute("delete from found")
    units = units_of(connection)
    checks = [check for rule in rules.values() for check in _of_rule(rule, units, settings or {})]
    outcomes = (*verdict.outcomes, *run_checks(connection, checks, contract))
    connection.execute(fixed_sql("stages/judged/whole_column"))
    store_verdict(connection, outcomes)
    return Verdict(outcomes)


def _of_rule(rule: ColumnRule, units: Sequence[str], settings: Settings) -> list[Check]:
    numbers = {unit: settings.get(unit, {}).get("numbers", {}).get(rule.id, {}) for unit in units}
    off = tuple(unit for unit, own in settings.items() if rule.id in own.get("off", ()))
    return list(rule.checks(numbers, off))


def run_column_example(
    rule: ColumnRule, example: Mapping[str, Any], contract: Contract | None = None
) -> pd.DataFrame:
    """Return what the select of ``rule`` finds in the example's rows of completeness.

    Columns: table_name, column_name, severity, explanation. What a row leaves out is filled:
    one unit, the shift ``all``, newborns = total.
    """
    with duckdb.connect() as connection:
        create_typed_tables(connection, contract)
        masks.start(connection)
        connection.execute(f"create table judged.completeness ({', '.join(_COMPLETENESS)})")
        for row in read_pipe_table(example["given"]["completeness"]):
            full = {"unit": EXAMPLE_UNIT, "shift": "all", "newborns": row.get("total"), **row}
            marks = ", ".join("?" for _ in full)
            connection.execute(
                f"insert into judged.completeness ({', '.join(full)}) values ({marks})",
                list(full.values()),
            )
        starts = read_pipe_table(example["given"].get("policy_start", "name | start_on"))
        _prepare(
            connection, [(EXAMPLE_UNIT, str(row["name"]), str(row["start_on"])) for row in starts]
        )
        for check in rule.checks({EXAMPLE_UNIT: example.get("numbers", {})}, off=()):
            find(connection, check, contract)
        found = connection.execute(
            "select table_name, column_name, severity, explanation from found order by all"
        ).df()
    meaning = f" {rule.text('explanation')}"
    return found.assign(explanation=found["explanation"].str.removesuffix(meaning))


def column_differences(
    rule: ColumnRule, example: Mapping[str, Any], contract: Contract | None = None
) -> list[str]:
    """Return what differs between the flags expected and found; empty where the example holds."""
    expect = read_pipe_table(example["expect"])
    names = list(expect[0]) if expect else ["table_name", "column_name"]
    got = set(run_column_example(rule, example, contract)[names].itertuples(index=False, name=None))
    want = {tuple(row[name] for name in names) for row in expect}
    lines = [f"expected but not found: {row}" for row in sorted(want - got, key=str)]
    return lines + [f"found but not expected: {row}" for row in sorted(got - want, key=str)]
