"""Judge every value of a build: the stage ``judged`` from end to end."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import duckdb

from expectations import from_contract
from expectations.check import Check, Number
from expectations.rule import RULES_DIR, Rule, read_rules
from expectations.verdict import Verdict, store_verdict
from pipelines import judged
from pipelines.contract import Limits, read_contract
from pipelines.errors import DeclarationError, nearest

Settings = Mapping[str, Mapping[str, Any]]


def judge(
    connection: duckdb.DuckDBPyConnection,
    settings: Settings | None = None,
    rules_dir: Path = RULES_DIR,
) -> Verdict:
    """Fill ``judged.flag``, ``judged.verdict`` and the masked ``judged.<table>``.

    ``connection`` has the stage ``typed`` and ``raw.<table>``. ``settings`` maps a unit id to
    ``{"off": [rule ids], "numbers": {rule_id: {parameter: value}}}``. Checks that could not
    be judged are in the verdict; what the others found is stored all the same.
    Raises DeclarationError where settings or a rule file name something unknown.
    """
    rules = read_rules(rules_dir)
    check_settings(settings or {}, rules)
    judged.start(connection)
    prepare(connection)
    checks = list(all_checks(connection, rules, settings or {}))
    from expectations.suites import run_checks  # imports great_expectations: seconds

    outcomes = run_checks(connection, checks)
    judged.collect_flags(connection)
    judged.mask(connection)
    store_verdict(connection, outcomes)
    return Verdict(outcomes)


def prepare(connection: duckdb.DuckDBPyConnection) -> None:
    """Create ``contract_limit``, so that a rule can say "beyond the limits" without a number."""
    connection.execute(
        "create or replace temp table contract_limit (table_name varchar, column_name varchar, "
        "kind varchar, error_below double, error_above double, query_below double, "
        "query_above double)"
    )
    connection.executemany(
        "insert into contract_limit values (?, ?, ?, ?, ?, ?, ?)",
        [
            [*place, limits.error_below, limits.error_above, limits.query_below, limits.query_above]
            for place, limits in _limits()
        ],
    )


def _limits() -> Iterator[tuple[tuple[str, str, str | None], Limits]]:
    for table in read_contract().values():
        for column in table.columns.values():
            if column.limits.any:
                yield (table.name, column.name, None), column.limits
        for kind in table.kinds.values():
            yield (table.name, "value", kind.name), kind.limits


def all_checks(
    connection: duckdb.DuckDBPyConnection, rules: Mapping[str, Rule], settings: Settings
) -> Iterator[Check]:
    """Yield every check in the order in which it must run.

    First what names a cause, so that "outside limits" can give way to it.
    """
    units = _units(connection)
    has_duplicates = _has_table(connection, "typed", "duplicate")
    for table in read_contract().values():
        for check in from_contract.causes(table, has_duplicates):
            yield _switched(check, settings)
    for rule in rules.values():
        yield _of_rule(rule, units, settings)
    for table in read_contract().values():
        for check in from_contract.limits(table):
            yield _switched(check, settings)


def _of_rule(rule: Rule, units: list[str], settings: Settings) -> Check:
    numbers: dict[str, Mapping[str, Number]] = {
        unit: settings.get(unit, {}).get("numbers", {}).get(rule.id, {}) for unit in units
    }
    return rule.check(numbers, off=_off(rule.id, settings))


def _switched(check: Check, settings: Settings) -> Check:
    return replace(check, off_units=_off(check.rule_id, settings))


def _off(rule_id: str, settings: Settings) -> tuple[str, ...]:
    return tuple(unit for unit, own in settings.items() if rule_id in own.get("off", ()))


def _units(connection: duckdb.DuckDBPyConnection) -> list[str]:
    # Every event belongs to an admitted newborn, so admission knows every unit.
    rows = connection.execute("select distinct unit from typed.admission order by unit").fetchall()
    return [str(row[0]) for row in rows]


def _has_table(connection: duckdb.DuckDBPyConnection, schema: str, name: str) -> bool:
    row = connection.execute(
        "select 1 from information_schema.tables where table_schema = ? and table_name = ? "
        "and table_catalog = current_database()",
        [schema, name],
    ).fetchone()
    return row is not None


def check_settings(settings: Settings, rules: Mapping[str, Rule]) -> None:
    """Refuse switches that name no rule or no parameter.

    Raises DeclarationError with the unit, what was found and the nearest known name.
    """
    for unit, own in settings.items():
        where = f"unit '{unit}'"
        _refuse(f"{where}: key of rule settings", own, ("off", "numbers"))
        _refuse(f"{where}: rule to switch off", own.get("off", ()), _rule_ids(rules))
        _refuse(f"{where}: rule to set numbers of", own.get("numbers", {}), rules)
        for rule_id, numbers in own.get("numbers", {}).items():
            _refuse(f"{where}: parameter of {rule_id}", numbers, rules[rule_id].parameters)
            for name, value in numbers.items():
                if not isinstance(value, (bool, int, float)):
                    raise DeclarationError(
                        f"{where}: parameter '{name}' of {rule_id} must be a number, true or false."
                    )


def _rule_ids(rules: Mapping[str, Rule]) -> list[str]:
    return [*rules, *from_contract.CONTRACT_RULES]


def _refuse(where: str, given: Any, known: Any) -> None:
    for name in given:
        if name not in known:
            raise DeclarationError(f"{where} '{name}' is not known.{nearest(name, known)}")
