"""Every worked example of every rule, by name."""

import pytest

from expectations.examples import differences
from expectations.rules_of_values import Example, Rule, read_rules

EXAMPLES = [
    pytest.param(rule, example, id=f"{rule.id}: {example.because}")
    for rule in read_rules().values()
    for example in rule.examples
]


@pytest.mark.parametrize(("rule", "example"), EXAMPLES)
def test_example(rule: Rule, example: Example) -> None:
    assert differences(rule, example) == []


def test_every_rule_has_an_example_with_a_flag_and_one_without() -> None:
    for rule in read_rules().values():
        expected = [bool(example.expect) for example in rule.examples]
        assert True in expected, f"{rule.id}: no example shows a flag"
        assert False in expected, f"{rule.id}: no example shows what is left alone"
