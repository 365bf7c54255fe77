"""Rules told on the command line: the list, and one rule with its worked examples run."""

from collections.abc import Mapping, Sequence

import duckdb

from expectations.examples import differences
from expectations.own_rules import refuse_taken
from expectations.rules_of_columns import ColumnRule, column_differences, read_column_rules
from expectations.rules_of_values import Rule, read_rules
from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.of_units import Definitions

EveryRule = Mapping[str, Rule | ColumnRule]


def rules_of(definitions: Definitions) -> EveryRule:
    """Return every rule file by id: those about values, then those about whole columns.

    Raises DeclarationError where a file is wrong or has the name of another rule.
    """
    of_values, of_columns = definitions.own["rules"], definitions.own["column_rules"]
    refuse_taken(of_values, of_columns)
    return {**read_rules(own=of_values), **read_column_rules(own=of_columns)}


def _said(rule: Rule | ColumnRule) -> dict[str, str]:
    if isinstance(rule, Rule):
        sources, parameters = rule.sources, rule.parameters
        words = {"table": rule.table, "severity": rule.severity, "explanation": rule.explanation}
    else:
        sources, parameters = rule.headed.header["sources"], rule.parameters
        words = {"table": "whole columns", "severity": rule.text("severity")}
        words["explanation"] = rule.text("explanation")
    numbers = "; ".join(f"{name} = {value}" for name, value in parameters.items())
    said = {**words, "numbers": numbers, "sources": "; ".join(sources)}
    return {key: " ".join(text.split()) for key, text in said.items() if text}


def _title(rule: Rule | ColumnRule) -> str:
    return rule.title if isinstance(rule, Rule) else rule.text("title")


def rule_list(rules: EveryRule) -> str:
    """List every rule with its severity."""
    width = max((len(name) for name in rules), default=0)
    return "\n".join(
        f"{name:<{width}}  {_said(rule)['severity']:<6} {_title(rule)}"
        for name, rule in rules.items()
    )


def rule_words(rules: EveryRule, name: str, definitions: Definitions) -> str:
    """Show one rule in words and run its worked examples.

    Raises DeclarationError where the name is not known or an example fails.
    """
    if name not in rules:
        raise DeclarationError(f"there is no rule '{name}'.{nearest(name, rules)}")
    rule = rules[name]
    lines = [_title(rule), "", *(f"{key:<11} {text}" for key, text in _said(rule).items()), ""]
    failed: list[str] = []
    for because, wrong in _examples(rule, definitions):
        lines.append(f"{'FAIL' if wrong else 'ok  '} {' '.join(because.split())}")
        failed += wrong
    if failed:
        raise DeclarationError("\n".join([*lines, f"{name}: an example fails:", *failed]))
    return "\n".join(lines)


def _examples(
    rule: Rule | ColumnRule, definitions: Definitions
) -> Sequence[tuple[str, Sequence[str]]]:
    contract, own = definitions.contract, definitions.own["rules"]
    try:
        if isinstance(rule, ColumnRule):
            return [
                (str(one["because"]), column_differences(rule, one, contract))
                for one in rule.examples
            ]
        return [(one.because, differences(rule, one, contract, own)) for one in rule.examples]
    except duckdb.Error as error:
        first = str(error).strip().splitlines()[0]
        raise DeclarationError(f"{rule.id}: the select does not run: {first}") from None
