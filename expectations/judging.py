"""Judge every value of a build: the stage ``judged`` from end to end."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import duckdb

from expectations import from_contract
from expectations.check import Check, Number
from expectations.prepare import Settings, has_table, prepare, units_of
from expectations.rules_of_values import RULES_DIR, Rule, read_rules
from expectations.verdict import Verdict, store_verdict
from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.own_files import OwnFile
from pipelines.definitions.read_contract import Contract, read_contract
from pipelines.stages.judged import masks
from pipelines.stages.judged.answers import Answer, apply_answers

_SETTING_KEYS = ("off", "numbers", "size_reference", "zone")


def judge(
    connection: duckdb.DuckDBPyConnection,
    settings: Settings | None = None,
    rules_dir: Path = RULES_DIR,
    answers: Sequence[Answer] = (),
    *,
    contract: Contract | None = None,
    own: Sequence[OwnFile] = (),
) -> Verdict:
    """Fill ``judged.flag``, ``judged.verdict`` and the masked ``judged.<table>``.

    ``connection`` has the stage ``typed`` and ``raw.<table>``. ``settings`` maps a unit id to
    ``{"off": [rule ids], "numbers": {rule_id: {parameter: value}}, "size_reference": path,
    "zone": time zone}``, each optional (``pipelines.judged.unit_settings`` makes it).
    ``contract`` is that of the build (None: as shipped), ``own`` the units' own rules. Checks
    that could not be judged are in the verdict; what the others found is stored all the same.
    Raises DeclarationError where settings or a rule file name something unknown, or a size
    reference cannot be used.
    """
    contract = contract or read_contract()
    rules = read_rules(rules_dir, own)
    check_settings(settings or {}, rules)
    masks.start(connection)
    prepare(connection, settings, contract)
    checks = list(all_checks(connection, rules, settings or {}, contract))
    from expectations.suites import run_checks  # imports great_expectations: seconds

    outcomes = run_checks(connection, checks, contract)
    masks.collect_flags(connection, contract)
    apply_answers(connection, answers)
    masks.mask(connection, contract)
    store_verdict(connection, outcomes)
    return Verdict(outcomes)


def all_checks(
    connection: duckdb.DuckDBPyConnection,
    rules: Mapping[str, Rule],
    settings: Settings,
    contract: Contract,
) -> Iterator[Check]:
    """Yield every check in the order in which it must run.

    First what names a cause, so that "outside limits" can give way to it.
    """
    units = units_of(connection)
    has_duplicates = has_table(connection, "typed", "duplicate")
    for table in contract.values():
        for check in from_contract.causes(table, has_duplicates):
            yield _switched(check, settings)
    for rule in rules.values():
        yield from _of_rule(rule, units, settings)
    for table in contract.values():
        for check in from_contract.limits(table):
            yield _switched(check, settings)


def _of_rule(rule: Rule, units: list[str], settings: Settings) -> list[Check]:
    numbers: dict[str, Mapping[str, Number]] = {
        unit: settings.get(unit, {}).get("numbers", {}).get(rule.id, {}) for unit in units
    }
    return rule.checks(numbers, off=_off(rule.id, settings))


def _switched(check: Check, settings: Settings) -> Check:
    return replace(check, off_units=_off(check.rule_id, settings))


def _off(rule_id: str, settings: Settings) -> tuple[str, ...]:
    return tuple(unit for unit, own in settings.items() if rule_id in own.get("off", ()))


def check_settings(settings: Settings, rules: Mapping[str, Rule]) -> None:
    """Refuse switches that name no rule or no parameter.

    Raises DeclarationError with the unit, what was found and the nearest known name.
    """
    for unit, own in settings.items():
        where = f"unit '{unit}'"
        _refuse(f"{where}: key of rule settings", own, _SETTING_KEYS)
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
